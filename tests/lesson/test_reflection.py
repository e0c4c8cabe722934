"""The talk with the class at the end."""

from datetime import UTC, datetime

from companion.lesson import event as ev
from companion.lesson.fold import fold
from companion.lesson.mark import WHOLE_CLASS, Kind, Source, table_scope
from companion.lesson.plan import Phase, Plan
from companion.lesson.reflection import Rating, carry_over_ideas, rating_of
from companion.lesson.session import Session

PLAN = Plan("garden", (Phase("arrival", 3), Phase("work time", 20), Phase("cleanup", 6)))


def session(*bodies: ev.Body) -> Session:
    """Return a lesson in which `bodies` happened."""
    told = (ev.SessionOpened("4-Hazel", PLAN), ev.PhaseBegan("arrival", 0, Source.CLOCK), *bodies)
    moment = datetime(2026, 11, 24, 10, 15, tzinfo=UTC)
    return fold(ev.Event(f"e{i}", "s", i, moment, 0, body) for i, body in enumerate(told, start=1))


def added(kind: Kind, phase: str, routine: str | None = None, scope: str = WHOLE_CLASS) -> ev.MarkAdded:
    """Return a mark of the review."""
    return ev.MarkAdded(kind, phase, scope=scope, routine=routine)


def test_hands_give_the_rating_and_the_humbler_one_when_equal() -> None:
    """A count of hands decides; nothing is decided without a hand."""
    assert rating_of((9, 4, 2)) is Rating.WENT_WELL
    assert rating_of((5, 5, 2)) is Rating.SO_SO
    assert rating_of((0, 4, 4)) is Rating.NEEDS_WORK
    assert rating_of((0, 0, 0)) is None


def test_ideas_for_the_carry_over_begin_with_what_needed_most_reminders() -> None:
    """The routine is named; what went well comes after; one table is never shown up before the class."""
    lesson = session(
        added(Kind.PRAISE, "arrival", "find your table"),
        added(Kind.REMINDER, "work time"),
        added(Kind.REMINDER, "cleanup", "rinse and hang up"),
        added(Kind.REMINDER, "cleanup", "rinse and hang up"),
        added(Kind.REMINDER, "cleanup", "sweep", scope=table_scope("four")),
    )
    assert carry_over_ideas(lesson) == (
        "Before cleanup we practise once: rinse and hang up.",
        "Before work time we say together what it looks like when it goes well.",
        "Last time find your table went well. Let us do that again.",
    )
