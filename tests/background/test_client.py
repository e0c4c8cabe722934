"""The running companion as the command line sees it, where it begins or ends."""

import json
from pathlib import Path

import pytest
from filelock import FileLock

from companion.background.client import stop
from companion.background.control import NoAnswerError
from companion.background.lock import LOCK
from companion.paths import Home


@pytest.fixture
def held(tmp_path: Path) -> FileLock:
    """Give the lock of a companion on the home in the test's folder, held as by one that runs."""
    lock = FileLock(Home(tmp_path).create().run / LOCK)
    lock.acquire()
    return lock


def test_one_that_is_ending_is_waited_for_and_that_is_said(tmp_path: Path, held: FileLock) -> None:
    """Its address has gone already, its lock not yet."""
    said: list[str] = []

    def told(sentence: str) -> None:
        said.append(sentence)
        held.release()

    stop(Home(tmp_path), told)
    assert said == ["The companion is ending already; it is waited for."]


def test_one_that_does_not_answer_is_not_taken_for_one_that_ends(tmp_path: Path, held: FileLock) -> None:
    """Its address is there: it is frozen, and what to do is said at once."""
    home = Home(tmp_path)
    home.control.write_text(json.dumps({"port": 1, "key": "00"}), encoding="utf-8")
    with pytest.raises(NoAnswerError):
        stop(home, print)
    held.release()
