"""Fixtures of a lesson that is going on."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.live.room import Room


@pytest.fixture
def room(tmp_path: Path) -> Iterator[Room]:
    """Give a running companion."""
    room = Room(tmp_path)
    yield room
    room.live.stop()
