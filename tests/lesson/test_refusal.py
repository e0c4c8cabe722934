"""What a session can't take: a row a sentence."""

from collections.abc import Iterable
from datetime import date

import pytest

from companion.lesson import aftercare
from companion.lesson import event as ev
from companion.lesson.child_code import CODE_WORDS
from companion.lesson.command import Action, Command
from companion.lesson.mark import FamilyContact, Kind, NoteKind, Source
from companion.lesson.refusal import refusal
from tests.lesson.builders import OPENED, began, praise, told

KEY, PAGE = Source.KEY, Source.PAGE
DAY = date(2026, 9, 18)
CONTACT = FamilyContact("the teacher", "phone", due=DAY)
LESSON: tuple[ev.Body, ...] = (
    began("arrival", 0),
    praise(1_000),
    ev.NearMissHeard("praise", 2_000, 0.4, Command(Action.PRAISE)),
    ev.NoteOpened(NoteKind.OTHER, 3_000, KEY),
    ev.MarkMade(Kind.PRAISE, 4_000, KEY),
    ev.MarkDropped("m6"),
    ev.NearMissHeard("praise", 5_000, 0.4, Command(Action.PRAISE)),
    ev.NearMissDismissed("c8"),
    ev.NoteCompleted("n5", "K. T.", NoteKind.OTHER, "left a coat", CONTACT),
)
"""Mark m3 stands, m6 was dropped (step 7); near miss c4 is open, c8 was answered; note n5 has a promise."""
CLOSED = ev.SessionClosed(60_000, KEY)
AFTER_26_HOURS_MS = 26 * 3_600_000
SETTLED, OVER = "the session is settled", "the lesson is over"

ROWS: Iterable[tuple[str, tuple[ev.Body, ...], ev.Body]] = [
    ("the session is open already", (), OPENED),
    (SETTLED, (CLOSED, ev.SessionSettled()), praise(9_000)),
    (SETTLED, (CLOSED, ev.SessionSettled()), ev.MarkKept("m3")),
    (SETTLED, (CLOSED, ev.SessionSettled()), ev.SessionSettled()),
    (OVER, (CLOSED,), praise(AFTER_26_HOURS_MS)),
    (OVER, (CLOSED,), praise(60_001)),
    (OVER, (CLOSED,), began("cleanup", AFTER_26_HOURS_MS, PAGE)),
    (OVER, (CLOSED,), ev.MarkDoubled("m3", 60_001, KEY)),
    (OVER, (CLOSED,), ev.NearMissHeard("praise", 60_001, 0.4, Command(Action.PRAISE))),
    (OVER, (CLOSED,), ev.UndoAsked(60_001, KEY)),
    (OVER, (CLOSED,), ev.ListeningPaused(60_001, KEY)),
    (OVER, (CLOSED,), ev.ListeningResumed(60_001, KEY)),
    (OVER, (CLOSED,), ev.HearingLost(60_001, "unplugged")),
    (OVER, (CLOSED,), ev.HearingRegained(60_001)),
    (OVER, (CLOSED,), ev.CompanionRestarted(50_000, 60_001)),
    ("the lesson is over already", (CLOSED,), ev.SessionClosed(59_000, KEY)),
    ("the session is not settled", (CLOSED,), ev.SessionReopened("a mark was missing")),
    ("a reason is needed", (CLOSED, ev.SessionSettled()), ev.SessionReopened("")),
    ("a reason is needed", (), ev.RecognitionOverruled("Harvest table", "")),
    ("a class group needs a name", (), ev.ClassGroupNamed("")),
    ("the plan has no phase 'recess'", (), began("recess", 9_000)),
    ("the plan has no phase 'recess'", (), ev.MarkAdded(Kind.PRAISE, "recess")),
    ("the plan has no phase 'recess'", (), ev.MarkChanged("m3", phase="recess")),
    ("the plan has no phase ''", (), ev.MarkChanged("m3", phase="")),
    (
        "a mark is for 'class', 'table one', 'table two' or 'part of the class', never for a child, and not"
        " for 'seat 3'",
        (),
        ev.MarkAdded(Kind.PRAISE, "arrival", scope="seat 3"),
    ),
    (
        "a mark is for 'class', 'table one', 'table two' or 'part of the class', never for a child, and not"
        " for 'seat 3'",
        (),
        ev.MarkChanged("m3", scope="seat 3"),
    ),
    ("there is no mark 'm99'", (), ev.MarkKept("m99")),
    ("there is no mark 'm99'", (), ev.MarkChanged("m99")),
    ("there is no mark 'm99'", (), ev.MarkDropped("m99")),
    ("there is no mark 'm99'", (), ev.MarkRestored("m99")),
    ("there is no mark 'm99'", (), ev.MarkDoubled("m99", 9_000, KEY)),
    ("the mark 'm6' does not count; it has to be restored first", (), ev.MarkKept("m6")),
    ("the mark 'm6' does not count; it has to be restored first", (), ev.MarkChanged("m6", Kind.REMINDER)),
    ("there is no near miss 'c99'", (), ev.NearMissConfirmed("c99", Kind.PRAISE)),
    ("there is no near miss 'm3'", (), ev.NearMissDismissed("m3")),
    ("this near miss is answered already", (), ev.NearMissConfirmed("c8", Kind.PRAISE)),
    ("this near miss is answered already", (), ev.NearMissDismissed("c8")),
    (
        "this near miss is answered already",
        (ev.NearMissConfirmed("c4", Kind.PRAISE),),
        ev.NearMissDismissed("c4"),
    ),
    ("there is no individual note 'n99'", (), ev.NoteCompleted("n99", "K. T.", NoteKind.OTHER)),
    ("there is no individual note 'n99'", (), ev.NoteDropped("n99")),
    (f"a note needs {CODE_WORDS}", (), ev.NoteCompleted("n5", "", NoteKind.OTHER)),
    (
        f"a child is {CODE_WORDS}, and 'the tall one' is neither",
        (),
        ev.NoteCompleted("n5", "the tall one", NoteKind.OTHER),
    ),
    (
        "nothing was done since the session was settled",
        (CLOSED, ev.SessionSettled()),
        ev.LastTakenBack((), 70_000, KEY),
    ),
    ("this can't be taken back", (), ev.LastTakenBack((2,), 9_000, KEY)),
    ("the class was told of this already", (), ev.MarksTold(("m3",), 9_000, KEY)),
    ("step 3 can't be taken back", (), ev.EventTakenBack(3)),
    ("step 7 can't be taken back", (ev.EventTakenBack(7),), ev.EventTakenBack(7)),
    (
        "no family contact was planned in the individual note 'n99'",
        (),
        aftercare.PromiseKept("n99", DAY),
    ),
    ("this promise is kept already", (aftercare.PromiseKept("n5", DAY),), aftercare.PromiseMoved("n5", DAY)),
    ("a reason is needed", (), aftercare.PromiseDropped("n5", "")),
    ("no award of this session is out", (), aftercare.AwardReturned()),
    ("an award needs a name", (), aftercare.AwardGiven("")),
    ("the plan has no phase 'recess'", (), aftercare.RoutineTaughtAgain("recess")),
    ("a class group needs a name", (), aftercare.CarryOverMoved("s", "")),
    ("it is not known which carry-over this is", (), aftercare.CarryOverDropped("")),
    ("it is not known which carry-over this is", (), aftercare.CarryOverMoved("", "5-Rowan")),
]


@pytest.mark.parametrize(("sentence", "before", "body"), ROWS)
def test_what_can_not_be_is_refused_in_a_sentence(
    sentence: str, before: tuple[ev.Body, ...], body: ev.Body
) -> None:
    """Each rule says why, in the words that the teacher reads."""
    assert refusal(told(*LESSON, *before), body) == sentence


@pytest.mark.parametrize(
    "body",
    [
        praise(60_000),
        began("cleanup", 59_000),
        ev.NearMissHeard("praise", 59_000, 0.4, Command(Action.PRAISE)),
        ev.HearingRegained(60_000),
        ev.NoteOpened(NoteKind.OTHER, AFTER_26_HOURS_MS, Source.REVIEW),
        ev.NoteCompleted("n5", "seat 3", NoteKind.OTHER),
        ev.NoteDropped("n5"),
        ev.MarkKept("m3"),
        ev.MarkChanged("m3", phase="cleanup", scope="table two"),
        ev.MarkRestored("m6"),
        ev.MarkAdded(Kind.PRAISE, "cleanup"),
        ev.NearMissConfirmed("c4", Kind.REMINDER),
        ev.NearMissDismissed("c4"),
        ev.EventTakenBack(7),
        ev.LastTakenBack((11,), AFTER_26_HOURS_MS, PAGE),
        ev.LastTakenBack((), AFTER_26_HOURS_MS, PAGE),
        ev.ClassGroupNamed("5-Rowan"),
        ev.SelfRated("so-so"),
        ev.TeacherViewed("A good start."),
        ev.RecognitionOverruled(None, "a hard day"),
        ev.CarryOverWritten("We practise the line."),
        ev.CarryOverSaid(),
        ev.SessionSettled(),
        aftercare.PromiseKept("n5", DAY),
        aftercare.PromiseDropped("n5", "the nurse called"),
        aftercare.RoutineTaughtAgain("arrival", "boots at the door"),
    ],
)
def test_a_lesson_that_is_over_takes_what_was_before_its_end_and_what_comes_after_a_lesson(
    body: ev.Body,
) -> None:
    """A phrase decided late counts; review, reflection, notes and settling go on; undo may open it again."""
    assert refusal(told(*LESSON, CLOSED), body) is None


@pytest.mark.parametrize("body", [praise(AFTER_26_HOURS_MS), CLOSED, ev.ListeningPaused(9_000, KEY)])
def test_a_lesson_that_is_going_on_takes_what_happens_in_it(body: ev.Body) -> None:
    """However long it lasts."""
    assert refusal(told(*LESSON), body) is None


def test_a_settled_session_opens_again_for_a_reason() -> None:
    """And takes a step of the review then."""
    reopened = ev.SessionReopened("a mark was missing")
    assert refusal(told(*LESSON, CLOSED, ev.SessionSettled()), reopened) is None
    assert refusal(told(*LESSON, CLOSED, ev.SessionSettled(), reopened), ev.MarkKept("m3")) is None
