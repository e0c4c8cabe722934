"""The envelope of what happened, and the lists of kinds."""

from typing import get_args

from hypothesis import given

from companion.lesson import event as ev
from companion.lesson.mark import Kind, Source
from tests.lesson.any_event import BODIES
from tests.lesson.builders import AT, praise


def event(body: ev.Body, batch: str = "") -> ev.Event:
    """Return the seventh event of a session."""
    return ev.Event("e7", "s", 7, AT, 0, body, batch)


def test_every_kind_of_event_has_one_name() -> None:
    """And every name one kind."""
    assert set(ev.BODIES.values()) == set(get_args(ev.Body))
    assert {ev.KIND_OF[body]: body for body in ev.KIND_OF} == ev.BODIES


def test_marks_near_misses_and_notes_are_named_by_their_event() -> None:
    """A confirmed near miss makes a mark only where it is one."""
    assert event(praise(0)).made == "m7"
    assert event(ev.MarkAdded(Kind.PRAISE, "cleanup")).made == "m7"
    assert event(ev.NearMissConfirmed("c3", Kind.REMINDER)).made == "m7"
    assert event(ev.NearMissConfirmed("c3", None)).made is None
    assert event(ev.NearMissHeard("praise", 0, 0.4, None)).made == "c7"
    assert event(ev.SessionSettled()).made is None


@given(BODIES)
def test_events_of_one_step_have_its_name(body: ev.Body) -> None:
    """What was recorded alone is a step of its own."""
    assert event(body, "b").step == "b"
    assert event(body).step == "e7"


def test_what_happens_in_a_lesson_happens_at_a_moment_of_it() -> None:
    """The list of what can't begin after the close goes by that moment."""
    assert all("at_ms" in body.__dataclass_fields__ for body in ev.IN_LESSON)
    assert ev.SessionClosed(0, Source.KEY).at_ms == 0
