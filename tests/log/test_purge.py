"""Deleting sessions for good."""

import sqlite3
from datetime import timedelta
from pathlib import Path

import pytest

from companion.lesson import event as ev
from companion.lesson.mark import NoteKind, Source
from companion.log.purge import purge, sessions_before
from companion.log.store import SessionLog, open_log
from tests.lesson.builders import AT, OPENED

SECRET = "a splinter in the left thumb"


def _noted(log: SessionLog) -> str:
    session = log.open_session(OPENED, AT)
    session = log.append(session.id, ev.NoteOpened(NoteKind.HEALTH_OFFICE, 5, Source.KEY), at=AT, offset_ms=5)
    completed = ev.NoteCompleted(session.notes[0].id, "seat 4", NoteKind.HEALTH_OFFICE, SECRET)
    return log.append(session.id, completed, at=AT, offset_ms=5).id


def test_a_purged_session_leaves_no_word_in_the_files(tmp_path: Path) -> None:
    """Not in the database, nor in its write-ahead log; the other session stays."""
    path = tmp_path / "home" / "sessions.db"
    with open_log(path) as log:
        doomed, kept = _noted(log), log.open_session(OPENED, AT).id
        assert purge(log, [doomed, "nowhere"], at=AT) == 1
        assert [summary.session for summary in log.summaries()] == [kept]
        assert log.events(doomed) == []
        for file in path.parent.iterdir():
            assert SECRET.encode() not in file.read_bytes(), file


def test_after_a_purge_the_log_is_append_only_again(tmp_path: Path) -> None:
    """The triggers are back, and that something was purged stays on record."""
    path = tmp_path / "home" / "sessions.db"
    with open_log(path) as log:
        purge(log, [_noted(log)], at=AT)
        _noted(log)
    with sqlite3.connect(path) as stranger:
        assert stranger.execute("SELECT sessions FROM purge").fetchall() == [(1,)]
        with pytest.raises(sqlite3.IntegrityError, match="append-only"):
            stranger.execute("DELETE FROM event")


def test_sessions_before_a_day_are_found(tmp_path: Path) -> None:
    """Short keeping is one command."""
    with open_log(tmp_path / "home" / "sessions.db") as log:
        old = log.open_session(OPENED, AT - timedelta(days=400)).id
        log.open_session(OPENED, AT)
        assert sessions_before(log, AT - timedelta(days=1)) == [old]
