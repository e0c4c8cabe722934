"""Backup, export and merge of the session log."""

import json
from pathlib import Path

import pytest

from companion.errors import CompanionError
from companion.lesson import event as ev
from companion.log.copies import copy_log
from companion.log.exchange import export_lines, merge
from companion.log.store import open_log
from tests.lesson.builders import AT, OPENED, began, praise, reminder
from tests.systems import is_private


def test_a_backup_holds_all_and_is_private(tmp_path: Path) -> None:
    """It is a session log of its own; a file that is there is not written over."""
    with open_log(tmp_path / "a" / "sessions.db") as log:
        session = log.open_session(OPENED, AT)
        log.append(session.id, praise(1_000), at=AT, offset_ms=0)
        copy_log(log.path, tmp_path / "backup.db")
        with pytest.raises(CompanionError, match="already"):
            copy_log(log.path, tmp_path / "backup.db")
        with pytest.raises(CompanionError, match="can't be written"):
            copy_log(log.path, tmp_path / "nowhere" / "backup.db")
    assert is_private(tmp_path / "backup.db")
    (tmp_path / "b").mkdir()
    (tmp_path / "backup.db").rename(tmp_path / "b" / "sessions.db")
    with open_log(tmp_path / "b" / "sessions.db") as copy:
        assert copy.session(session.id).praise == 1


def test_an_export_is_one_event_a_line(tmp_path: Path) -> None:
    """With kind, times and body as they stand in the log."""
    with open_log(tmp_path / "a" / "sessions.db") as log:
        session = log.open_session(OPENED, AT)
        log.append(session.id, praise(1_000), at=AT, offset_ms=7)
        log.append(session.id, ev.TeacherViewed("은행나무"), at=AT, offset_ms=8)
        written = list(export_lines(log, session.id))
    assert "은행나무" in written[2]
    lines = [json.loads(line) for line in written[:2]]
    assert [line["kind"] for line in lines] == ["session opened", "mark made"]
    assert json.loads(lines[1]["body"])["at_ms"] == 1_000


def test_a_merge_takes_new_sessions_and_longer_records(tmp_path: Path) -> None:
    """Merging twice takes nothing twice."""
    with open_log(tmp_path / "a" / "sessions.db") as mine:
        session = mine.open_session(OPENED, AT)
        mine.append(session.id, began("arrival", 0), at=AT, offset_ms=0)
        (tmp_path / "b").mkdir()
        copy_log(mine.path, tmp_path / "b" / "sessions.db")
        with open_log(tmp_path / "b" / "sessions.db") as theirs:
            theirs.append(session.id, praise(1_000), at=AT, offset_ms=0)
            theirs.open_session(OPENED, AT)
        assert merge(mine, tmp_path / "b" / "sessions.db") == (1, 1)
        assert mine.session(session.id).praise == 1
        assert mine.summaries("4-Hazel")[-1].praise == 1
        assert merge(mine, tmp_path / "b" / "sessions.db") == (0, 0)


def test_a_session_that_went_on_differently_is_refused_and_nothing_is_taken(tmp_path: Path) -> None:
    """The teacher decides which record is the true one."""
    with open_log(tmp_path / "a" / "sessions.db") as mine:
        session = mine.open_session(OPENED, AT)
        (tmp_path / "b").mkdir()
        copy_log(mine.path, tmp_path / "b" / "sessions.db")
        with open_log(tmp_path / "b" / "sessions.db") as theirs:
            theirs.append(session.id, praise(1_000), at=AT, offset_ms=0)
            theirs.open_session(OPENED, AT)
        mine.append(session.id, reminder(1_000), at=AT, offset_ms=0)
        with pytest.raises(CompanionError, match="differently"):
            merge(mine, tmp_path / "b" / "sessions.db")
        assert len(mine.summaries()) == 1
        assert mine.session(session.id).reminder == 1


def test_merging_what_is_not_a_log_is_refused(tmp_path: Path) -> None:
    """A plain sentence for a missing file and for another kind of file."""
    (tmp_path / "shopping.txt").write_text("leeks\n" * 1000)
    with open_log(tmp_path / "a" / "sessions.db") as log:
        with pytest.raises(CompanionError, match="no file"):
            merge(log, tmp_path / "missing.db")
        with pytest.raises(CompanionError, match="not a session log"):
            merge(log, tmp_path / "shopping.txt")
        assert log.open_session(OPENED, AT).praise == 0
