"""`companion log`: what goes for good, and what comes from another computer."""

import hashlib
import shutil
from datetime import timedelta
from pathlib import Path

import pytest

from companion.lesson import event as ev
from companion.log.store import SessionLog, open_log
from tests.commands.conftest import Run
from tests.lesson.builders import AT, PLAN, praise


@pytest.fixture
def log(tmp_path: Path) -> SessionLog:
    """Return the log of `run`'s home, with two lessons of one class and one of another."""
    log = open_log(tmp_path / "home" / "sessions.db")
    for class_group, days in (("4-Hazel", 0), ("4-Hazel", 30), ("5-Oak", 0)):
        at = AT + timedelta(days=days)
        session = log.open_session(ev.SessionOpened(class_group, PLAN), at)
        log.append(session.id, praise(30_000), at=at, offset_ms=30_000)
    return log


def test_filters_of_a_purge_narrow(call: Run, log: SessionLog) -> None:
    """Class group and day together delete only what is both; all of it is listed before anything goes."""
    asked = call("log", "purge", "--class-group", "4-Hazel", "--before", "2026-10-01", said="n\n", code=1)
    assert "4-Hazel: 1 session, 14 September 2026, 1 mark, 0 notes, one of them still open" in asked.stdout
    assert "5-Oak" not in asked.stdout
    assert len(log.summaries()) == 3
    done = call("log", "purge", "--class-group", "4-Hazel", "--before", "2026-10-01", "--yes")
    assert "4-Hazel: 1 session, 14 September 2026" in done.stdout
    left = {(summary.class_group, summary.opened_at) for summary in log.summaries()}
    assert left == {("4-Hazel", AT + timedelta(days=30)), ("5-Oak", AT)}


def test_a_session_that_is_no_match_for_the_filter_stays(call: Run, log: SessionLog) -> None:
    """Naming it does not widen what the other words say."""
    named = log.summaries("5-Oak")[0].session
    assert (
        "Nothing was deleted"
        in call("log", "purge", named, "--class-group", "4-Hazel", "--yes", code=2).stderr
    )
    assert len(log.summaries()) == 3


def test_a_purge_alone_explains_itself(call: Run, log: SessionLog) -> None:
    """It deletes nothing, and says how to say which sessions are meant; so does a day that is none."""
    told = call("log", "purge", code=2).stderr
    assert "--class-group" in told
    assert "narrows" in told
    assert "as in 2026-09-14" in call("log", "purge", "--before", "14.9.2026", code=2).stderr
    assert "%Y" not in call("log", "purge", "--help").stdout
    assert len(log.summaries()) == 3


def _state(folder: Path) -> dict[str, tuple[int, str]]:
    """Return mode and sum of a folder and of everything in it."""
    return {
        path.name: (
            path.stat().st_mode,
            "" if path.is_dir() else hashlib.sha256(path.read_bytes()).hexdigest(),
        )
        for path in (folder, *folder.iterdir())
    }


@pytest.mark.parametrize("ending", [[""], ["", "-wal"]])
def test_another_log_is_read_where_it_lies(
    call: Run, log: SessionLog, tmp_path: Path, ending: list[str]
) -> None:
    """Nothing in its folder changes, no mode and no byte, whether or not it was closed when it was copied."""
    assert log.summaries()
    other = tmp_path / "stick"
    other.mkdir(mode=0o755)
    with open_log(tmp_path / "elsewhere" / "sessions.db") as theirs:
        theirs.open_session(ev.SessionOpened("6-Larch", PLAN), AT)
        if ending == [""]:
            theirs.close()
        for end in ending:
            shutil.copy(tmp_path / "elsewhere" / f"sessions.db{end}", other / f"sessions.db{end}")
    (other / "sessions.db").chmod(0o644)
    before = _state(other)
    assert "1 new session taken over" in call("log", "merge", other / "sessions.db").stdout
    assert _state(other) == before
    assert "nothing that is not" in call("log", "merge", other / "sessions.db").stdout
    assert [summary.class_group for summary in log.summaries("6-Larch")] == ["6-Larch"]


def test_what_is_no_log_is_refused_and_left_alone(call: Run, tmp_path: Path) -> None:
    """An empty file does not become a database."""
    other = tmp_path / "stick"
    other.mkdir(mode=0o755)
    (other / "empty.db").touch(0o644)
    before = _state(other)
    assert "not a session log" in call("log", "merge", other / "empty.db", code=2).stderr
    assert _state(other) == before


def test_without_a_backup_the_way_out_of_a_damaged_log_is_one_sentence(call: Run, tmp_path: Path) -> None:
    """There is no other way of which it would be the second."""
    (tmp_path / "home").mkdir()
    (tmp_path / "home" / "sessions.db").touch()
    said = call("log", "verify", code=2).stderr
    assert "Save what is readable: companion log salvage." in said
    assert "Or save" not in said
