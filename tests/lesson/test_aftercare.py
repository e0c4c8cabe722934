"""What is looked after beyond the lesson, as one session tells it."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.lesson import aftercare
from companion.lesson import event as ev
from companion.lesson.aftercare import HandOver
from companion.lesson.award import award_of, pieces_left
from companion.lesson.carry_over import Answer, CarriedOver, CarryOverAnswer
from companion.lesson.command import Action, Command
from companion.lesson.conduct import carry_out
from companion.lesson.fold import fold
from companion.lesson.handoff import as_text, hand_off_note
from companion.lesson.mark import FamilyContact, Kind, NoteKind, Source
from companion.lesson.promise import PromiseState, kept_words, promise_words
from companion.lesson.recognition import Level
from companion.lesson.refusal import refusal
from companion.lesson.session import Session
from tests.lesson.any_event import BODIES
from tests.lesson.builders import AT, OPENED, PLAN, began, praise, told

FRIDAY, MONDAY = date(2026, 9, 18), date(2026, 9, 21)
CONTACT = FamilyContact("the teacher", "phone", due=FRIDAY)
NOTE = (
    ev.NoteOpened(NoteKind.HEALTH_OFFICE, 4_000, Source.VOICE),
    ev.NoteCompleted("n3", "K. T.", NoteKind.HEALTH_OFFICE, "a splinter", CONTACT),
)
CLOSED = (ev.SessionClosed(9_000, Source.KEY), ev.SessionSettled())
HELD = ev.SessionOpened("4-Hazel", PLAN, OPENED.levels, holds_marks=True)


def promised(*bodies: ev.Body) -> Session:
    """Return a settled session with a promise, and what became of it."""
    return told(began("arrival", 0), *NOTE, *CLOSED, *bodies)


def test_a_family_contact_that_was_planned_is_a_promise_until_it_is_kept() -> None:
    """By whom, how and by when; overdue only once the day has passed."""
    (promise,) = promised().promises
    assert promise_words(promise, date(2026, 9, 14)) == "K. T.: the teacher, phone, by Friday 18 September"
    assert [promise.overdue(day) for day in (FRIDAY, MONDAY)] == [False, True]
    (kept,) = promised(aftercare.PromiseKept("n3", MONDAY, "all is well.", tell=True)).promises
    assert (kept.state, kept.overdue(MONDAY)) == (PromiseState.KEPT, False)
    assert kept_words(kept) == "K. T.: the family was contacted on Monday 21 September: all is well."


def test_a_promise_is_moved_to_another_day_or_dropped_with_a_reason() -> None:
    """Planning the contact anew in the note itself sets the day anew."""
    moved = promised(aftercare.PromiseMoved("n3", MONDAY))
    assert moved.promises[0].due == MONDAY
    again = ev.NoteCompleted(
        "n3", "K. T.", NoteKind.HEALTH_OFFICE, "", FamilyContact("x", "note", due=FRIDAY)
    )
    assert promised(aftercare.PromiseMoved("n3", MONDAY), again).promises[0].due == FRIDAY
    line = ev.NoteCompleted("n3", "K. T.", NoteKind.HEALTH_OFFICE, "a splinter, taken out", CONTACT)
    assert promised(aftercare.PromiseMoved("n3", MONDAY), line).promises[0].due == MONDAY
    dropped = promised(aftercare.PromiseDropped("n3", "the nurse called")).promises[0]
    assert (dropped.state, dropped.line) == (PromiseState.DROPPED, "the nurse called")
    planned = ev.NoteCompleted(
        "n3", "K. T.", NoteKind.OTHER, "", FamilyContact("x", "note", "after school", FRIDAY)
    )
    assert promised(planned).promises[0].words == "after school"
    assert promised(planned, aftercare.PromiseMoved("n3", MONDAY)).promises[0].words == ""


@pytest.mark.parametrize(
    "body",
    [
        aftercare.PromiseDropped("n3", ""),
        aftercare.PromiseKept("n99", FRIDAY),
        aftercare.PromiseMoved("n99", FRIDAY),
        aftercare.AwardReturned(),
        aftercare.AwardGiven(""),
        aftercare.RoutineTaughtAgain("recess"),
        aftercare.CarryOverMoved("s", ""),
        aftercare.CarryOverDropped(""),
        praise(10_000),
        ev.MarkAdded(Kind.PRAISE, "arrival"),
        ev.CarryOverWritten("too late"),
    ],
)
def test_what_can_not_be_is_refused_after_settling(body: ev.Body) -> None:
    """A promise needs a note with a contact, a drop its reason, and the count its reopening."""
    assert refusal(promised(), body)


def test_a_promise_is_kept_once() -> None:
    """Ticked twice is an error that says so; undo lets it be open again."""
    kept = promised(aftercare.PromiseKept("n3", FRIDAY))
    assert refusal(kept, aftercare.PromiseKept("n3", FRIDAY)) == "this promise is kept already"
    open_again = promised(aftercare.PromiseKept("n3", FRIDAY), ev.LastTakenBack((7,), 0, Source.PAGE))
    assert open_again.promises[0].state is PromiseState.OPEN


@given(st.lists(BODIES, max_size=20))
def test_notes_after_settling_never_move_the_count(bodies: list[ev.Body]) -> None:
    """They are begun, completed, added and thrown away; what the class took home stays."""
    before = told(*bodies, *CLOSED)
    name = f"n{before.last_seq + 1}"
    added: tuple[ev.Body, ...] = (
        ev.NoteOpened(NoteKind.OTHER, 9_000, Source.REVIEW),
        ev.NoteCompleted(name, "S. L.", NoteKind.OTHER, "left a coat", CONTACT),
    )
    after = told(*bodies, *CLOSED, *added)
    assert all(refusal(told(*bodies, *CLOSED, *added[:n]), body) is None for n, body in enumerate(added))
    assert (after.praise, after.reminder, after.recognition, after.settled) == (
        before.praise,
        before.reminder,
        before.recognition,
        True,
    )
    assert after.note(name) is not None
    assert told(*bodies, *CLOSED, *added, ev.NoteDropped(name)).note(name) is None


def test_a_note_that_is_changed_after_it_was_handed_over_says_so() -> None:
    """Handing it over again is up to date; undo takes the handing over back."""
    session = promised(aftercare.NoteHandedOver(HandOver.PRINTED))
    assert (session.handed_over, session.changed_since_handed_over) == (HandOver.PRINTED, False)
    changed = promised(aftercare.NoteHandedOver(HandOver.PRINTED), ev.NoteDropped("n3"))
    assert changed.changed_since_handed_over
    for body in (NOTE[1], ev.SessionReopened("a mark was missing")):
        assert promised(aftercare.NoteHandedOver(HandOver.PRINTED), body).changed_since_handed_over
        assert not promised(body).changed_since_handed_over
    undone = promised(aftercare.NoteHandedOver(HandOver.PRINTED), ev.LastTakenBack((7,), 0, Source.PAGE))
    assert undone.handed_over is None


def test_a_held_mark_counts_at_once_and_is_told_once() -> None:
    """Telling shows all that is held; a second telling has nothing, and the same mark is refused."""
    held: list[ev.Body] = [HELD, began("arrival", 0)]
    session = _fold(*held)
    made = carry_out(session, Command(Action.PRAISE), 5_000, Source.KEY)
    session = _fold(*held, *made)
    assert (session.praise, [mark.id for mark in session.untold]) == (1, ["m3"])
    telling = carry_out(session, Command(Action.TELL), 6_000, Source.KEY)
    session = _fold(*held, *made, *telling)
    assert (session.untold, session.last_told) == ((), ("m3",))
    assert carry_out(session, Command(Action.TELL), 7_000, Source.KEY) == ()
    assert refusal(session, ev.MarksTold(("m3",), 7_000, Source.KEY)) == "the class was told of this already"


def test_a_mark_added_afterwards_is_not_yet_told_and_says_why() -> None:
    """With its phase; once the count is settled with the class everything is told."""
    added = ev.MarkAdded(Kind.PRAISE, "arrival", why="my hands were full")
    session = told(began("arrival", 0), praise(1_000), added)
    assert [(mark.late, mark.why, mark.phase) for mark in session.untold] == [
        (True, "my hands were full", "arrival")
    ]
    assert told(began("arrival", 0), added, *CLOSED).untold == ()


def test_an_undone_held_mark_is_not_told() -> None:
    """What does not stand is nothing to tell of."""
    mark = ev.MarkMade(Kind.PRAISE, 1_000, Source.KEY, held=True)
    assert _fold(HELD, began("arrival", 0), mark, ev.LastTakenBack((3,), 2_000, Source.KEY)).untold == ()


def test_carry_overs_wait_each_until_it_is_said_or_dropped() -> None:
    """An older log has one, without its session."""
    waiting = (CarriedOver("a", "Close the tap."), CarriedOver("b", "Tools by the handle."))
    opened = ev.SessionOpened("4-Hazel", PLAN, waiting=waiting)
    assert _fold(opened).to_say == waiting
    assert _fold(opened).lists_waiting
    assert not _fold(ev.SessionOpened("4-Hazel", PLAN)).lists_waiting
    assert _fold(opened, ev.CarryOverSaid("a")).to_say == waiting[1:]
    assert _fold(opened, ev.CarryOverSaid("a"), aftercare.CarryOverDropped("b")).carry_over_said
    moved = _fold(opened, aftercare.CarryOverMoved("a", "5-Rowan"))
    assert (moved.to_say, moved.answers) == (waiting[1:], (CarryOverAnswer("a", Answer.MOVED, "5-Rowan"),))
    assert _fold(opened, ev.CarryOverSaid()).carry_over_said
    old = ev.SessionOpened("4-Hazel", PLAN, carry_over="Close the tap.")
    assert (_fold(old).carry_over_before, _fold(old).carry_over_said) == ("Close the tap.", False)
    assert _fold(old, ev.CarryOverSaid()).carry_over_said


def test_a_level_may_have_an_object_of_which_pieces_are_left_or_not() -> None:
    """Out is what other classes have now."""
    level = Level("Harvest table", 5, "the brass can", 2)
    assert award_of((level, Level("Green row", 2)), "Harvest table") == level
    assert award_of((level, Level("Green row", 2)), "Green row") is None
    assert [pieces_left(level, ["the brass can"] * out) for out in (0, 1, 2, 3)] == [2, 1, 0, 0]


def test_an_award_goes_out_and_comes_back() -> None:
    """With the session that earned it."""
    given = aftercare.AwardGiven("the brass can")
    out = told(began("arrival", 0), given, *CLOSED)
    assert out.award is not None
    assert out.award.is_out
    back = told(
        began("arrival", 0), aftercare.AwardGiven("the brass can"), *CLOSED, aftercare.AwardReturned()
    )
    assert back.award is not None
    assert not back.award.is_out
    assert refusal(out, aftercare.AwardReturned()) is None
    assert refusal(back, aftercare.AwardReturned()) == "no award of this session is out"


def test_taught_again_and_the_guest_are_kept() -> None:
    """Of a phase or of a routine; the last word on who taught holds."""
    session = promised(
        aftercare.RoutineTaughtAgain("cleanup", "tools back"),
        aftercare.SessionTaught(by_guest=True),
    )
    assert session.taught_again == (aftercare.RoutineTaughtAgain("cleanup", "tools back"),)
    assert session.by_guest


def test_a_lesson_without_a_mark_earns_nothing_and_its_note_says_so() -> None:
    """A margin of zero is not a lesson that went well."""
    session = told(began("arrival", 0), *CLOSED)
    assert session.recognition is None
    assert "No mark was made in this lesson, so there is no recognition." in as_text(hand_off_note(session))


def test_any_phase_can_be_gone_to_also_an_earlier_one() -> None:
    """It runs a second time, and marks after that are its own."""
    bodies = (began("arrival", 0), began("cleanup", 60_000))
    back = carry_out(told(*bodies), Command(Action.PHASE, phase="arrival"), 90_000, Source.PAGE)
    session = told(*bodies, *back, praise(91_000))
    assert [span.name for span in session.phases] == ["arrival", "cleanup", "arrival"]
    assert session.marks[0].phase == "arrival"


def _fold(*bodies: ev.Body) -> Session:
    """Return the session of `bodies`, the first of which opens it."""
    return fold(ev.Event(f"e{seq}", "s", seq, AT, 0, body) for seq, body in enumerate(bodies, start=1))
