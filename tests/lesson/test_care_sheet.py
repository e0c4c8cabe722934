"""What a session has to look after, event by event."""

from datetime import date

from companion.lesson import aftercare
from companion.lesson import event as ev
from companion.lesson.care_sheet import CareSheet
from companion.lesson.mark import FamilyContact, NoteKind, Source
from companion.lesson.promise import PromiseState
from tests.lesson.builders import events, told

OPENED = ev.NoteOpened(NoteKind.OTHER, 1_000, Source.KEY)


def completed(by: str) -> ev.NoteCompleted:
    """Return the note with a contact of `by`, due on the 18th."""
    contact = FamilyContact(by, "phone", due=date(2026, 9, 18))
    return ev.NoteCompleted("n2", "seat 3", NoteKind.OTHER, "", contact)


def test_a_promise_that_was_moved_is_due_on_its_new_day() -> None:
    """Until it is planned anew; the same plan written down again leaves it moved."""
    moved = aftercare.PromiseMoved("n2", date(2026, 9, 25))
    same = told(OPENED, completed("the teacher"), moved, completed("the teacher"))
    anew = told(OPENED, completed("the teacher"), moved, completed("the office"))
    assert [session.promises[0].due for session in (same, anew)] == [date(2026, 9, 25), date(2026, 9, 18)]


def test_a_dropped_promise_keeps_its_reason() -> None:
    """And when it was dropped."""
    (promise,) = told(OPENED, completed("the teacher"), aftercare.PromiseDropped("n2", "moved away")).promises
    assert (promise.state, promise.line) == (PromiseState.DROPPED, "moved away")
    assert promise.done_at is not None


def test_a_note_that_was_handed_over_tells_of_later_changes() -> None:
    """Handed over again, it is as the class's teacher has it."""
    handed = aftercare.NoteHandedOver(aftercare.HandOver.PRINTED)
    assert not told(OPENED, handed).changed_since_handed_over
    assert told(OPENED, handed, completed("the teacher")).changed_since_handed_over
    assert not told(OPENED, handed, completed("the teacher"), handed).changed_since_handed_over


def test_a_copy_goes_on_by_itself() -> None:
    """What one takes in, the other does not."""
    sheet = CareSheet()
    copy = sheet.copy()
    for event in events(aftercare.RoutineTaughtAgain("cleanup", "tools back"), ev.CarryOverSaid("s")):
        copy.take(event)
    assert (len(copy.taught_again), len(copy.answers)) == (1, 1)
    assert (sheet.taught_again, sheet.answers) == ([], [])
