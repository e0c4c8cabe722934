"""The tables of the log."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from sqlite_utils import Database

from companion.log.schema import migrations
from companion.log.store import open_log
from tests.lesson.builders import AT, OPENED


@pytest.mark.parametrize("statement", ["UPDATE event SET seq = 7", "DELETE FROM event"])
def test_nothing_changes_an_event_or_takes_it_away(tmp_path: Path, statement: str) -> None:
    """Not even a statement of SQL."""
    with open_log(tmp_path / "sessions.db") as log:
        log.open_session(OPENED, AT)
        with log.reading() as db, pytest.raises(sqlite3.IntegrityError, match="append"):
            db.conn.execute(statement)


def test_every_step_of_the_tables_has_a_name_of_its_own() -> None:
    """A log is brought up to date by the names that it has not seen."""
    with closing(Database(memory=True)) as empty:
        names = [step.name for step in migrations.pending(empty)]
    assert names[0] == "append_only_events"
    assert len(set(names)) == len(names)
