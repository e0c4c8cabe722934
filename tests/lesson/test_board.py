"""The day on one board: lessons in order, their steps, and what is next."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from companion.lesson import aftercare
from companion.lesson import event as ev
from companion.lesson.aftercare import HandOver
from companion.lesson.board import AfterLesson, BoardLesson, Next, board_of, to_look_at
from companion.lesson.command import Action, Command
from companion.lesson.fold import fold
from companion.lesson.mark import Kind, NoteKind, Source
from companion.lesson.place import EARLY
from companion.lesson.session import Session
from companion.lesson.timetable import Lesson
from tests.lesson.builders import PLAN

NINE = datetime(2026, 9, 14, 9, 0, tzinfo=ZoneInfo("America/Chicago"))
MARK = ev.MarkMade(Kind.PRAISE, 1_000, Source.KEY)
CLOSED = ev.SessionClosed(2_000, Source.KEY)
KEPT, RATED = ev.MarkKept("m2"), ev.SelfRated("went well")
NOTE = ev.NoteOpened(NoteKind.OTHER, 1_000, Source.KEY)
COMPLETED = ev.NoteCompleted("n5", "K. T.", NoteKind.OTHER)
HANDED = aftercare.NoteHandedOver(HandOver.PRINTED)
MISS = ev.NearMissHeard("praise", 1_000, 0.4, Command(Action.PRAISE))


def lesson(group: str, minutes: int) -> Lesson:
    """Return a lesson of the timetable so many minutes after nine."""
    begins = NINE + timedelta(minutes=minutes)
    return Lesson(begins, begins + timedelta(minutes=45), f"at {minutes}", group, None, "")


def held(group: str, minutes: int, *bodies: ev.Body) -> Session:
    """Return a session that opened so many minutes after nine."""
    opened = NINE + timedelta(minutes=minutes)
    told = (ev.SessionOpened(group, PLAN), *bodies)
    return fold(ev.Event(f"{seq}", group, seq, opened, 0, body) for seq, body in enumerate(told, start=1))


def test_lessons_stand_in_order_with_what_was_held_for_them() -> None:
    """One that came early, one that took another's place, one beside the timetable, one still to come."""
    day = [lesson("4-Hazel", 0), lesson("2-Birch", 45), lesson("5-Oak", 240)]
    sessions = [held("2-Birch", 40), held("6-Alder", 3), held("1-Ash", 120)]
    rows = board_of(day, sessions)
    assert [(row.class_group, row.session is not None, row.lesson is not None) for row in rows] == [
        ("6-Alder", True, True),
        ("2-Birch", True, True),
        ("1-Ash", True, False),
        ("5-Oak", False, True),
    ]


def test_a_class_keeps_the_place_of_its_own_lesson() -> None:
    """Another class that came between two gets the later place, but the earlier where that is taken."""
    day = [lesson("4-Hazel", 0), lesson("2-Birch", 45)]
    came = held("6-Alder", 42)
    assert [row.class_group for row in board_of(day, [came])] == ["4-Hazel", "6-Alder"]
    assert [row.class_group for row in board_of(day, [came, held("2-Birch", 40)])] == ["6-Alder", "2-Birch"]


def test_a_class_that_comes_in_a_lessons_last_quarter_stands_in_that_lessons_row() -> None:
    """It came for the rest of that lesson; where that row is taken it has its own, and never the next one."""
    day = [lesson("4-Hazel", 0), lesson("2-Birch", 45)]
    came = held("6-Alder", 31)
    assert [row.class_group for row in board_of(day, [came])] == ["6-Alder", "2-Birch"]
    rows = board_of(day, [came, held("4-Hazel", 0, CLOSED)])
    assert [(row.class_group, row.lesson is not None) for row in rows] == [
        ("4-Hazel", True),
        ("6-Alder", False),
        ("2-Birch", True),
    ]


def test_a_lesson_is_opened_for_its_time_or_a_little_before() -> None:
    """One that opens when the lesson ends stands beside the timetable."""
    early = -EARLY // timedelta(minutes=1)
    for minutes, beside in {early - 1: True, early: False, 44: False, 45: True}.items():
        assert (len(board_of([lesson("4-Hazel", 0)], [held("4-Hazel", minutes)])) == 2) is beside, minutes


def test_what_waits_for_a_look_is_counted() -> None:
    """Marks, near misses of marks that nobody has answered, and notes without a child."""
    other = ev.NearMissHeard("all hands", 1_000, 0.4, Command(Action.NEXT_PHASE))
    session = held("4-Hazel", 0, MARK, MARK, MISS, MISS, MISS, ev.NearMissDismissed("c4"), other, NOTE)
    assert to_look_at(session) == 2 + 2 + 1


def test_a_class_that_was_opened_twice_has_two_rows() -> None:
    """The first was perhaps a mistake; neither hides the other."""
    rows = board_of([lesson("4-Hazel", 0)], [held("4-Hazel", 1, CLOSED), held("4-Hazel", 2, MARK)])
    assert [(row.lesson is not None, row.session is not None) for row in rows] == [
        (True, True),
        (False, True),
    ]


@pytest.mark.parametrize(
    ("bodies", "expected"),
    [
        ((MARK,), Next.LIVE),
        ((MARK, CLOSED), Next.REVIEW),
        ((MARK, KEPT, CLOSED), Next.REFLECTION),
        ((MARK, KEPT, CLOSED, NOTE), Next.PRIVATE_NOTES),
        ((MARK, KEPT, CLOSED, ev.SessionSettled()), Next.NOTE),
        ((MARK, KEPT, CLOSED, NOTE, COMPLETED, ev.SessionSettled(), HANDED), None),
        ((MARK, KEPT, CLOSED, NOTE, COMPLETED, ev.SessionSettled(), HANDED, ev.NoteDropped("n5")), Next.NOTE),
        ((CLOSED,), None),
        ((MISS, CLOSED), Next.REVIEW),
        ((NOTE, CLOSED), Next.PRIVATE_NOTES),
    ],
)
def test_the_next_thing_is_the_first_that_is_left(bodies: tuple[ev.Body, ...], expected: Next | None) -> None:
    """A lesson with nothing to look at waits for nothing."""
    session = held("4-Hazel", 0, *bodies)
    assert BoardLesson(NINE, "4-Hazel", None, session).next(NINE) is expected


def test_each_step_is_done_or_open() -> None:
    """None before the lesson is over."""
    done = held("4-Hazel", 0, MARK, KEPT, CLOSED, RATED, ev.CarryOverWritten("Again."))
    steps = dict(BoardLesson(NINE, "4-Hazel", None, done).steps)
    in_order = [AfterLesson.REVIEWED, AfterLesson.REFLECTED, AfterLesson.NEXT_TIME]
    assert [step for step in AfterLesson if steps[step]] == in_order
    assert BoardLesson(NINE, "4-Hazel", None, held("4-Hazel", 0, MARK)).steps == ()
    assert (
        dict(BoardLesson(NINE, "4-Hazel", None, held("4-Hazel", 0, MISS, CLOSED)).steps)[AfterLesson.REVIEWED]
        is False
    )
    settled = held("4-Hazel", 0, MISS, CLOSED, ev.SessionSettled())
    assert dict(BoardLesson(NINE, "4-Hazel", None, settled).steps)[AfterLesson.REVIEWED]
    viewed = held("4-Hazel", 0, CLOSED, ev.TeacherViewed("A good start."), ev.SessionSettled(), HANDED)
    steps = dict(BoardLesson(NINE, "4-Hazel", None, viewed).steps)
    assert [step for step in AfterLesson if not steps[step]] == [AfterLesson.NEXT_TIME]
    changed = held("4-Hazel", 0, NOTE, CLOSED, HANDED, ev.NoteDropped("n2"))
    assert dict(BoardLesson(NINE, "4-Hazel", None, changed).steps)[AfterLesson.NOTE] is False


def test_a_lesson_of_the_timetable_can_be_opened_until_it_is_over() -> None:
    """One that was not held asks for nothing."""
    row = BoardLesson(NINE, "4-Hazel", lesson("4-Hazel", 0))
    assert row.next(NINE + timedelta(minutes=44)) is Next.OPEN
    assert row.next(NINE + timedelta(minutes=45)) is None
