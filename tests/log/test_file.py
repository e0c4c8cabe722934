"""The log's file."""

import errno
import os
import sqlite3
import stat
from contextlib import closing
from pathlib import Path

import pytest
from sqlite_utils import Database

from companion.errors import CompanionError
from companion.log.file import connected, keep_writable, make_log
from companion.log.schema import migrations
from companion.log.whereabouts import VIEW, WAITING, beside
from tests.systems import is_private, needs_posix


def test_a_new_log_is_there_whole_or_not_at_all(tmp_path: Path) -> None:
    """It is brought up to date before it has its name, and nothing else stays in the folder."""
    path = tmp_path / "sessions.db"
    before = os.umask(0)
    make_log(path)
    os.umask(before)
    assert is_private(path)
    assert [file.name for file in tmp_path.iterdir()] == ["sessions.db"]
    with closing(Database(path)) as db:
        assert not migrations.pending(db)


def test_what_other_packages_add_to_sqlite_utils_never_reaches_the_log(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """To look for them takes a fifth of a start."""
    monkeypatch.setattr("sqlite_utils.db.ensure_plugins_loaded", None)
    make_log(tmp_path / "sessions.db")
    connected(tmp_path / "sessions.db").close()


def test_a_log_that_is_there_is_not_replaced(tmp_path: Path) -> None:
    """Another process may have been quicker."""
    path = tmp_path / "sessions.db"
    path.write_bytes(b"the other's")
    make_log(path)
    assert path.read_bytes() == b"the other's"


def test_a_disk_that_knows_no_second_names_takes_it_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As most sticks."""

    def refuse(*_: object) -> None:
        raise OSError(errno.EPERM, "no links here")

    monkeypatch.setattr(Path, "hardlink_to", refuse)
    path = tmp_path / "sessions.db"
    make_log(path)
    assert path.stat().st_size
    make_log(path)
    assert [file.name for file in tmp_path.iterdir()] == ["sessions.db"]


def test_a_commit_waits_for_the_disk(tmp_path: Path) -> None:
    """What is confirmed to a teacher outlasts a power cut: synchronous is FULL (2)."""
    make_log(tmp_path / "sessions.db")
    with closing(connected(tmp_path / "sessions.db")) as db:
        assert db.execute("PRAGMA synchronous").fetchone() == (2,)
        assert db.execute("PRAGMA journal_mode").fetchone() == ("wal",)


def test_a_stranger_is_refused_and_left_as_it_is(tmp_path: Path) -> None:
    """A database of another program, and a log of a newer version."""
    other, newer = tmp_path / "other.db", tmp_path / "newer.db"
    with closing(sqlite3.connect(other)) as db:
        db.execute("CREATE TABLE recipes (name TEXT)")
    make_log(newer)
    with closing(sqlite3.connect(newer)) as db, db:
        db.execute(
            "INSERT INTO _sqlite_migrations (migration_set, name, applied_at)"
            " VALUES ('session log', 'of the year 2040', '2040-01-01')"
        )
    with pytest.raises(CompanionError, match="not a session log"):
        connected(other)
    with pytest.raises(CompanionError, match="newer version"):
        connected(newer)
    with closing(sqlite3.connect(other)) as db:
        assert db.execute("SELECT name FROM sqlite_master").fetchall() == [("recipes",)]


@needs_posix
def test_a_log_that_was_to_be_read_only_for_a_while_is_written_again(tmp_path: Path) -> None:
    """SQLite makes what is beside the log with the log's own rights, and leaves it as it is."""
    path = tmp_path / "sessions.db"
    make_log(path)
    path.chmod(0o444)
    with closing(sqlite3.connect(path)) as reader:
        reader.execute("SELECT * FROM event").fetchall()
        files = [path, beside(path, WAITING), beside(path, VIEW)]
        assert {stat.S_IMODE(file.stat().st_mode) for file in files} == {0o444}
        keep_writable(path)
        assert {stat.S_IMODE(file.stat().st_mode) for file in files} == {0o600}
