"""The fold that goes on, event by event, beside the fold from the beginning."""

from collections.abc import Callable
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from companion.lesson import event as ev
from companion.lesson import review
from companion.lesson.command import Action, Command
from companion.lesson.fold import Telling, fold, tell
from companion.lesson.mark import Kind, NoteKind, Source
from companion.lesson.session import Session
from companion.lesson.undo import take_back
from tests.lesson.any_event import BODIES
from tests.lesson.builders import AT, OPENED, PLAN, began, praise, reminder

Wish = Callable[[Session], tuple[ev.Body, ...]]
"""What is done, as it depends on what the session is by then."""


def said(*bodies: ev.Body) -> Wish:
    """Return a wish for these events, whatever the session is."""
    return lambda _: bodies


def undone(session: Session) -> tuple[ev.Body, ...]:
    """Take back what was done last."""
    return (take_back(session, session.last_ms + 1_000, Source.KEY),)


TIMES = st.integers(0, 90_000)
LIKELY: st.SearchStrategy[Wish] = st.one_of(
    st.builds(said, st.builds(praise, TIMES)),
    st.builds(said, st.builds(reminder, TIMES)),
    st.builds(said, st.builds(began, st.sampled_from([phase.name for phase in PLAN]), TIMES)),
    st.sampled_from(
        [
            said(ev.NoteOpened(NoteKind.OTHER, 5_000, Source.KEY)),
            said(ev.NearMissHeard("praise", 6_000, 0.4, Command(Action.PRAISE))),
            said(ev.ListeningPaused(7_000, Source.KEY)),
            said(ev.ListeningResumed(8_000, Source.KEY)),
            said(ev.SessionClosed(90_000, Source.KEY)),
            said(ev.MarkAdded(Kind.PRAISE, "arrival")),
            review.keep_all,
            review.undo,
            undone,
            undone,
        ]
    ),
)


def told_on(telling: Telling, body: ev.Body) -> Telling:
    """Return the telling with one more event; those of the review come in steps of their own."""
    seq = len(telling.events) + 1
    event = ev.Event(f"e{seq}", "s", seq, AT, getattr(body, "at_ms", None) or 0, body)
    return telling.go_on(event)


def all_of(session: Session) -> tuple[Any, ...]:
    """Return a session with what its equality leaves out."""
    return session, session.done, session.taken_back


@given(st.lists(LIKELY | st.builds(said, BODIES), max_size=25))
def test_a_session_that_goes_on_is_the_one_that_is_told_from_its_beginning(wishes: list[Wish]) -> None:
    """Whatever happens, undo and the review's own among it; and what was told before stays as it was."""
    telling = tell([ev.Event("e1", "s", 1, AT, 0, OPENED)])
    before = [telling]
    for wish in wishes:
        for body in wish(telling.session):
            telling = told_on(telling, body)
            before.append(telling)
    assert all_of(telling.session) == all_of(fold(telling.events))
    halfway = before[len(before) // 2]
    branch = told_on(halfway, praise(500))
    assert all_of(branch.session) == all_of(fold(branch.events))


def test_a_mark_that_undo_took_back_is_no_step_of_a_session_that_goes_on() -> None:
    """A second undo goes to the mark before it."""
    telling = tell([ev.Event("e1", "s", 1, AT, 0, OPENED)])
    for body in (praise(1_000), praise(2_000)):
        telling = told_on(telling, body)
    for left in ([2], []):
        telling = told_on(telling, take_back(telling.session, 3_000, Source.KEY))
        assert [event.seq for event in telling.session.done] == left


def test_settling_ends_the_word_of_what_undo_took_back() -> None:
    """What the page said of the lesson is not said of the evening."""
    telling = tell([ev.Event("e1", "s", 1, AT, 0, OPENED)])
    telling = told_on(told_on(telling, praise(1_000)), ev.SessionClosed(90_000, Source.KEY))
    telling = told_on(telling, take_back(telling.session, 91_000, Source.KEY))
    assert telling.session.taken_back
    telling = told_on(told_on(telling, ev.SessionClosed(92_000, Source.KEY)), ev.SessionSettled())
    assert telling.session.taken_back == ()
