"""Other content that is copied into the very file of the log."""

import os
import shutil
import sqlite3
import subprocess
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest

from companion.log.copies import waiting
from companion.log.damage import damages
from companion.log.stamp import WHOLE_WITHIN_S, Stamp, put_right
from companion.log.store import go_on, open_log
from companion.log.whereabouts import LogMovedError
from tests.lesson.builders import AT, OPENED, praise
from tests.systems import needs_posix


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Return where a log may be made."""
    return tmp_path / "sessions.db"


@pytest.fixture
def old(path: Path) -> Path:
    """Return an older log than the one at `path`, with other sessions in it."""
    for log_path, sessions in ((path.with_name("old.db"), 30), (path, 40)):
        with open_log(log_path) as log:
            for number in range(sessions):
                log.open_session(OPENED, AT + timedelta(hours=number))
    return path.with_name("old.db")


def copy_half(old: Path, path: Path, since_s: float) -> None:
    """Copy the first half, and let it lie for some seconds."""
    whole = old.read_bytes()
    with path.open("r+b") as copied:
        copied.write(whole[: len(whole) // 2])
    _let_lie(path, since_s)


def copy_into(old: Path, path: Path) -> None:
    """Copy as `cp` does: the file stays the same one."""
    before = path.stat().st_ino
    subprocess.run(["cp", str(old), str(path)], check=True)
    assert path.stat().st_ino == before


@needs_posix
def test_an_older_copy_in_the_same_file_is_noticed(path: Path) -> None:
    """Also one of this very run, from before SQLite brought its newest pages into the file."""
    with open_log(path) as log:
        log.watch()
        session = log.open_session(OPENED, AT)
        old = path.with_name("old.db")
        subprocess.run(["cp", str(path), str(old)], check=True)
        with closing(sqlite3.connect(path)) as other:
            other.execute("PRAGMA wal_checkpoint(PASSIVE)")
        assert not log.moved
        log.watch()
        telling = log.telling(session.id)
        for number in range(3):
            telling = go_on(session.id, telling, (praise(number),), at=AT, offset_ms=number)
            log.write(telling, expected=number + 1)
        assert not log.moved
        copy_into(old, path)
        assert log.moved
        with pytest.raises(LogMovedError, match="copied into the file"):
            log.write(go_on(session.id, telling, (praise(9),), at=AT, offset_ms=9), expected=4)


@needs_posix
def test_what_was_copied_becomes_the_log_and_what_belonged_to_the_old_is_set_aside(path: Path) -> None:
    """Newer pages upon older ones would be a damaged log; it is waited for the end of the copying."""
    with open_log(path) as log:
        first = log.open_session(OPENED, AT).id
    old = path.with_name("old.db")
    shutil.copyfile(path, old)
    with open_log(path) as log:
        log.watch()
        log.open_session(OPENED, AT)
        copy_into(old, path)
        with pytest.raises(LogMovedError):
            log.reopen()
        _let_lie(path)
        log.reopen()
        assert not log.moved
        assert [one.session for one in log.summaries()] == [first]
        log.watch()
        copy_into(old, path)
        assert log.moved
    assert len(waiting(path)) == 1


@needs_posix
def test_a_copy_that_stops_half_way_is_waited_for_and_is_no_log_until_it_is_whole(
    path: Path, old: Path
) -> None:
    """From a slow stick, or by a cloud that fetches the rest: half of each would be a damaged log."""
    with open_log(old) as log:
        first = {one.session for one in log.summaries()}
    with open_log(path) as log:
        log.watch()
        copy_half(old, path, 2)
        with pytest.raises(LogMovedError):
            log.reopen()
        assert waiting(path) == []
        copy_into(old, path)
        _let_lie(path)
        log.reopen()
        assert damages(path) == []
        assert {one.session for one in log.summaries()} == first


@needs_posix
def test_a_half_copy_that_stays_one_is_set_aside_and_a_new_log_begins(path: Path, old: Path) -> None:
    """Lessons go on; what lies in it can be salvaged."""
    with open_log(path) as log:
        log.watch()
        copy_half(old, path, WHOLE_WITHIN_S + 1)
        log.reopen()
        assert log.summaries() == []
        session = log.open_session(OPENED, AT).id
        assert [one.session for one in log.summaries()] == [session]
    assert len(waiting(path)) == 1
    assert damages(path) == []


def _let_lie(path: Path, since_s: float = 2) -> None:
    """Let the file be one that was written to some seconds ago."""
    os.utime(path, (path.stat().st_atime, path.stat().st_mtime - since_s))


def test_a_stamp_waits_for_nobody_and_stands_through_what_others_write(path: Path) -> None:
    """Another program holds the log, or brings its pages into the file: it is the same log."""
    with open_log(path) as log, log.reading() as db:
        stamp = Stamp(db, path)
        with closing(sqlite3.connect(path, isolation_level=None)) as other:
            other.execute("BEGIN IMMEDIATE")
            stamp.renew()
            other.execute("ROLLBACK")
            stamp.renew()
            log.open_session(OPENED, AT)
            other.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        assert not stamp.is_foreign
        stamp.renew()
        assert not stamp.is_foreign


def test_nothing_is_put_right_while_it_is_copied(path: Path) -> None:
    """A half copy would be taken for the log."""
    open_log(path).close()
    with pytest.raises(BlockingIOError):
        put_right(path)
    assert path.exists()
    assert waiting(path) == []
