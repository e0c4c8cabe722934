"""The tables that are handed out."""

from companion.lesson import event as ev
from companion.lesson.aftercare import RoutineTaughtAgain
from companion.lesson.mark import NoteKind, Source
from companion.log.shapes import MARKS, NOTES, PHASES, SESSIONS, SHAPES, TAUGHT, rows_of
from tests.lesson.builders import began, praise, reminder, told

SESSION = told(
    began("arrival", 0),
    praise(1_000, routine="boots at the door"),
    reminder(2_000),
    ev.MarkDropped("m4"),
    ev.NoteOpened(NoteKind.OTHER, 3_000, Source.KEY),
    ev.NoteCompleted("n6", "seat 3", NoteKind.OTHER, "Fine."),
    RoutineTaughtAgain("cleanup", "tools back"),
)


def test_every_row_has_a_value_for_each_column() -> None:
    """In the order of the columns."""
    for shape in (*SHAPES, NOTES):
        rows = list(rows_of(SESSION, shape))
        assert rows
        assert all(len(row) == len(shape.columns) for row in rows)


def test_what_does_not_stand_is_not_handed_out() -> None:
    """The dropped reminder is in no table."""
    (mark,) = rows_of(SESSION, MARKS)
    assert mark[1:] == ("m3", 1_000, "arrival", "praise", "class", "boots at the door", "voice", False)
    (session,) = rows_of(SESSION, SESSIONS)
    assert (session[1], *session[6:9]) == ("4-Hazel", 1, 0, 1)
    assert [row[1:] for row in rows_of(SESSION, PHASES)] == [("arrival", 0, 1, 0, 1)]
    assert [row[1:] for row in rows_of(SESSION, TAUGHT)] == [("cleanup", "tools back")]


def test_nothing_about_a_child_goes_out_unasked() -> None:
    """Notes are a table that has to be asked for by name."""
    assert NOTES not in SHAPES
    assert [row[3:] for row in rows_of(SESSION, NOTES)] == [("other", "seat 3", "Fine.")]
    assert "seat 3" not in str([row for shape in SHAPES for row in rows_of(SESSION, shape)])
