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


def test_what_was_purged_from_an_old_log_stays_on_record(tmp_path: Path) -> None:
    """How many sessions, and when."""
    with closing(Database(tmp_path / "old.db")) as db:
        migrations.apply(db, stop_before="forgotten")
        db.table("purge").insert({"id": "p1", "at": AT.isoformat(), "sessions": 3})
        migrations.apply(db)
        assert [(row["what"], row["count"], row["gone"]) for row in db.table("forgotten").rows] == [
            ("sessions", 3, 1)
        ]
        assert "purge" not in db.table_names()


@pytest.mark.parametrize(
    ("question", "index"),
    [
        ("SELECT max(opened_at) FROM summary WHERE class_group = 'x'", "idx_summary_class_group_opened_at"),
        ("SELECT session FROM summary WHERE opened_at > '2026-09'", "idx_summary_opened_at"),
        ("SELECT session FROM summary ORDER BY julianday(opened_at) DESC, session DESC", "summary_by_time"),
        ("SELECT answer FROM carry_over_answer WHERE origin = 's'", "idx_carry_over_answer_origin"),
        ("SELECT child FROM promise WHERE state = 'open' ORDER BY due", "idx_promise_state_due"),
        ("SELECT substr(opened_at, 1, 10), count(*) FROM summary GROUP BY 1", "summary_by_day"),
        (
            "SELECT session FROM summary WHERE carry_over <> '' ORDER BY julianday(opened_at), session",
            "summary_left",
        ),
    ],
)
def test_years_of_lessons_are_asked_by_an_index(question: str, index: str) -> None:
    """The board and the next lesson wait for these."""
    with closing(Database(memory=True)) as db:
        migrations.apply(db)
        plan = [row["detail"] for row in db.query(f"EXPLAIN QUERY PLAN {question}")]
    assert [line for line in plan if f"INDEX {index}" in line], plan


def test_no_two_events_of_a_session_have_one_number(tmp_path: Path) -> None:
    """Whoever writes them."""
    with open_log(tmp_path / "sessions.db") as log:
        session = log.open_session(OPENED, AT).id
        with log.writing() as db, pytest.raises(sqlite3.IntegrityError, match="UNIQUE"):
            db.execute(
                "INSERT INTO event (id, session, seq, at, offset_ms, kind, version, body) SELECT"
                " 'e99', session, seq, at, offset_ms, kind, version, body FROM event WHERE session = ?",
                [session],
            )


def test_every_table_says_what_its_columns_hold() -> None:
    """SQLite would take anything for a number otherwise."""
    with closing(Database(memory=True)) as db:
        migrations.apply(db)
        kept_by_sqlite_utils = {name for name in db.table_names() if name.startswith("_")}
        assert [name for name in db.table_names() if not db.table(name).strict] == [*kept_by_sqlite_utils]


def test_a_lesson_of_an_old_log_without_any_mark_earns_nothing() -> None:
    """Unless the teacher had said otherwise; and what waits for a look there waits still."""
    with closing(Database(memory=True)) as db:
        migrations.apply(db, stop_before="aftercare")
        columns = dict.fromkeys(db.table("summary").columns_dict, 0)
        for session, praise in (("empty", 0), ("full", 3)):
            texts = {"session": session, "class_group": "4-Hazel", "opened_at": AT.isoformat()}
            row = columns | texts | {"plan": "garden", "recognition": "Oak", "carry_over": ""}
            db.table("summary").insert(row | {"praise": praise, "unreviewed": 2})
        migrations.apply(db)
        names = ("session", "recognition", "to_look_at", "lists_waiting", "by_guest")
        found = [tuple(row[name] for name in names) for row in db.table("summary").rows]
    assert found == [("empty", None, 2, 0, 0), ("full", "Oak", 2, 0, 0)]
