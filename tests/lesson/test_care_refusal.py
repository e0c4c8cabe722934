"""What can't become of promises, awards and carry-overs."""

from datetime import date

import pytest

from companion.lesson import aftercare
from companion.lesson import event as ev
from companion.lesson.care_refusal import care_refusal
from companion.lesson.mark import FamilyContact, NoteKind, Source
from tests.lesson.builders import told

PLANNED = (
    ev.NoteOpened(NoteKind.OTHER, 1_000, Source.KEY),
    ev.NoteCompleted("n2", "seat 3", NoteKind.OTHER, "", FamilyContact("the teacher", "phone")),
)
KEPT = aftercare.PromiseKept("n2", date(2026, 9, 15))


@pytest.mark.parametrize(
    ("body", "why"),
    [
        (aftercare.PromiseKept("n9", date(2026, 9, 15)), "no family contact was planned"),
        (aftercare.PromiseMoved("n9", date(2026, 9, 15)), "no family contact was planned"),
        (aftercare.PromiseDropped("n2", ""), "a reason is needed"),
        (aftercare.AwardReturned(), "no award of this session is out"),
        (aftercare.AwardGiven(""), "an award needs a name"),
        (aftercare.RoutineTaughtAgain("recess", ""), "no phase 'recess'"),
        (aftercare.CarryOverMoved("s", ""), "a class group needs a name"),
        (aftercare.CarryOverMoved("", "2-Birch"), "not known which carry-over"),
        (aftercare.CarryOverDropped(""), "not known which carry-over"),
    ],
)
def test_what_can_not_be_is_refused_with_its_reason(body: ev.Body, why: str) -> None:
    """Each in the words that the teacher reads."""
    assert why in (care_refusal(told(*PLANNED), body) or "")


def test_a_promise_ends_once() -> None:
    """Kept, it can be neither kept again nor dropped."""
    kept = told(*PLANNED, KEPT)
    assert care_refusal(kept, KEPT) == "this promise is kept already"
    assert care_refusal(kept, aftercare.PromiseDropped("n2", "moved away")) == "this promise is kept already"


def test_what_can_be_is_not_refused() -> None:
    """A planned promise, a phase of the plan, an award that is out, a known carry-over."""
    session = told(*PLANNED, aftercare.AwardGiven("the garden gnome"))
    for body in (
        KEPT,
        aftercare.PromiseDropped("n2", "moved away"),
        aftercare.AwardReturned(),
        aftercare.RoutineTaughtAgain("cleanup", "tools back"),
        aftercare.CarryOverMoved("s", "2-Birch"),
    ):
        assert care_refusal(session, body) is None
