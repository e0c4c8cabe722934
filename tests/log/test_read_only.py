"""A session log that is read where it lies."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from companion.errors import CompanionError
from companion.log.read_only import reading_only
from companion.log.store import open_log
from tests.lesson.builders import AT, OPENED, praise


def test_what_is_no_log_is_not_read(tmp_path: Path) -> None:
    """An SQLite file with other tables."""
    path = tmp_path / "recipes.db"
    with closing(sqlite3.connect(path)) as db, db:
        db.execute("CREATE TABLE recipe (name TEXT)")
    with pytest.raises(CompanionError, match="not a session log"), reading_only(path):
        pass


def test_a_log_that_is_only_read_leaves_file_and_folder_as_they_are(tmp_path: Path) -> None:
    """One that is open, one whose write-ahead log still waits, and one that was closed."""
    path = tmp_path / "home" / "sessions.db"
    with open_log(path) as log:
        session = log.open_session(OPENED, AT).id
        log.append(session, praise(1_000), at=AT, offset_ms=0)
        left = path.with_name("left")
        left.mkdir()
        for file in list(path.parent.glob("sessions.db*")):
            if not file.name.endswith("-shm"):
                (left / file.name).write_bytes(file.read_bytes())
        for where in (path, left / path.name):
            before = sorted(where.parent.iterdir())
            with reading_only(where) as reader:
                assert reader.session(session).praise == 1
            assert sorted(where.parent.iterdir()) == before
    before = sorted(path.parent.iterdir())
    with reading_only(path) as reader:
        assert reader.session(session).praise == 1
    assert sorted(path.parent.iterdir()) == before
    empty = path.with_name("empty.db")
    empty.touch()
    with pytest.raises(CompanionError, match="is not a session log"), reading_only(empty):
        pass
