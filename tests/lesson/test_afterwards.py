"""What is done after the lesson."""

from companion.lesson import afterwards
from companion.lesson import event as ev
from companion.lesson.mark import WHOLE_CLASS, Kind
from tests.lesson.builders import began, praise, told


def test_whatever_is_done_afterwards_can_be_recorded() -> None:
    """No class of the module is without a name in the log."""
    made = {one for one in vars(afterwards).values() if getattr(one, "__module__", "") == afterwards.__name__}
    assert made <= set(ev.BODIES.values())


def test_what_a_change_leaves_out_stays_as_it_was() -> None:
    """An empty routine takes the routine away; none leaves it."""
    named = praise(1_000, routine="tools back")
    kept, taken = (
        told(began("arrival", 0), named, ev.MarkChanged("m3", kind=Kind.REMINDER, routine=routine)).marks[0]
        for routine in (None, "")
    )
    assert (kept.kind, kept.scope, kept.phase, kept.routine) == (
        Kind.REMINDER,
        WHOLE_CLASS,
        "arrival",
        "tools back",
    )
    assert taken.routine is None


def test_an_added_mark_without_a_time_stands_where_its_phase_began() -> None:
    """And says why it comes late."""
    session = told(
        began("arrival", 0), began("cleanup", 60_000), ev.MarkAdded(Kind.PRAISE, "cleanup", why="rain")
    )
    assert (session.marks[0].at_ms, session.marks[0].why, session.marks[0].late) == (60_000, "rain", True)
