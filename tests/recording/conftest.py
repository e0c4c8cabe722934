"""What most tests of recording begin with."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from companion.log.store import SessionLog, open_log
from tests.school_day import HandClock


@pytest.fixture
def clock() -> HandClock:
    """Give a clock that stands still."""
    return HandClock()


@pytest.fixture
def log(tmp_path: Path) -> Iterator[SessionLog]:
    """Give an empty session log."""
    with open_log(tmp_path / "sessions.db") as opened:
        yield opened
