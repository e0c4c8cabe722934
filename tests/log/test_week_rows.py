"""The rows that weeks are counted from."""

from pathlib import Path

from companion.bench.school_years import fill
from companion.lesson import event as ev
from companion.lesson.command import Action, Command
from companion.lesson.mark import Kind, Source
from companion.log.store import open_log
from companion.log.week_rows import TABLES, phases_held
from tests.lesson.builders import AT, OPENED, began, praise, reminder, told

MISS = ev.NearMissHeard("reminder", 5_000, 0.4, Command(Action.REMINDER))


def test_a_phase_that_was_held_has_a_row_also_without_a_mark() -> None:
    """One that was passed over has none; a praise for a routine is counted apart."""
    session = told(
        began("arrival", 0), praise(1), praise(2, routine="boots at the door"), began("cleanup", 9)
    )
    assert [tuple(row.values())[1:] for row in phases_held(session)] == [
        ("arrival", 0, 2, 0, 1),
        ("cleanup", 2, 0, 0, 0),
    ]


def test_a_lesson_is_counted_once_it_is_over(tmp_path: Path) -> None:
    """Heard right, heard falsely and missed, by the phrase; marks by their source."""
    with open_log(tmp_path / "sessions.db") as log:
        session = log.open_session(OPENED, AT).id
        for body in (began("arrival", 0), praise(1), praise(2), reminder(3), MISS):
            log.append(session, body, at=AT, offset_ms=0)
        with log.reading() as db:
            assert [db.table(table).count for table in TABLES] == [0, 0, 0, 0, 0]
        for step in (
            ev.SessionClosed(9_000, Source.KEY),
            ev.MarkDropped("m4"),
            ev.NearMissConfirmed("c6", Kind.REMINDER),
        ):
            log.append(session, step, at=AT, offset_ms=0)
        with log.reading() as db:
            phrases = {row["phrase"]: row for row in db.table("phrase_heard").rows}
            counts = {
                phrase: (row["correct"], row["wrong"], row["missed"]) for phrase, row in phrases.items()
            }
            assert counts == {"praise": (1, 1, 0), "reminder": (1, 0, 1)}
            (source,) = db.table("mark_source").rows
            assert (source["source"], source["marks"]) == ("voice", 3)


def test_a_log_from_before_the_work_after_lessons_was_kept_gets_it(tmp_path: Path) -> None:
    """The same rows as if it had been kept from the first lesson on."""
    path = tmp_path / "sessions.db"
    fill(path, 10)
    with open_log(path) as log, log.reading() as db:
        kept = list(db.table("after_lesson").rows)
        db.execute("DROP TABLE after_lesson")
        db.execute("DELETE FROM _sqlite_migrations WHERE name = 'after_lessons'")
    with open_log(path) as log, log.reading() as db:
        assert list(db.table("after_lesson").rows) == kept
    assert len(kept) == 10
