"""The marks of a session while its events are taken in."""

from companion.lesson import event as ev
from companion.lesson.mark import Kind, Source
from companion.lesson.mark_sheet import MarkSheet
from companion.lesson.span import PhaseSpan
from tests.lesson.builders import events, praise, reminder

PHASES = (PhaseSpan("arrival", 0, 60_000), PhaseSpan("cleanup", 60_000, None))


def sheet_of(*bodies: ev.Body) -> MarkSheet:
    """Return the sheet after `bodies`, which are numbered from 2."""
    sheet = MarkSheet()
    for event in events(*bodies):
        sheet.take(event, PHASES)
    return sheet


def test_the_tally_counts_what_stands_by_phase_routine_and_kind() -> None:
    """A dropped mark leaves no row behind."""
    sheet = sheet_of(
        praise(1_000), praise(61_000, routine="tools back"), reminder(2_000), ev.MarkDropped("m4")
    )
    assert sheet.tally == (
        ("arrival", "", Kind.PRAISE, 1),
        ("cleanup", "tools back", Kind.PRAISE, 1),
    )


def test_marks_stand_in_the_order_in_which_they_were_said() -> None:
    """A phrase is decided after a key that was pressed while it was said."""
    assert [mark.id for mark in sheet_of(praise(5_000), praise(1_000)).marks] == ["m3", "m2"]


def test_a_phase_that_began_earlier_takes_what_was_made_since() -> None:
    """What the review moved stays where it was put."""
    sheet = sheet_of(praise(30_000), praise(40_000), ev.MarkChanged("m3", phase="arrival"))
    sheet.move((PhaseSpan("arrival", 0, 20_000), PhaseSpan("cleanup", 20_000, None)), 20_000)
    assert [(mark.phase, mark.stamped_phase) for mark in sheet.marks] == [
        ("cleanup", "cleanup"),
        ("arrival", "cleanup"),
    ]


def test_a_copy_goes_on_by_itself() -> None:
    """What one takes in, the other does not."""
    sheet = sheet_of(praise(1_000))
    copy = sheet.copy()
    copy.undo("m2")
    assert [one.marks[0].state.stands for one in (sheet, copy)] == [True, False]
    assert sheet.tally != copy.tally


def test_an_answered_near_miss_is_no_near_miss_to_answer() -> None:
    """It is still shown as heard."""
    sheet = sheet_of(ev.NearMissHeard("praise", 5, 0.4, None), ev.NearMissDismissed("c2"))
    assert sheet.near_miss("c2") is None
    assert [miss.answered for miss in sheet.near_misses] == [True]


def test_what_is_not_there_changes_nothing() -> None:
    """Neither a mark nor a near miss of another session."""
    sheet = sheet_of(
        ev.MarkDropped("m9"),
        ev.MarkDoubled("m9", 0, Source.KEY),
        ev.MarkChanged("m9", kind=Kind.PRAISE),
        ev.NearMissConfirmed("c9", Kind.PRAISE),
    )
    assert (sheet.marks, sheet.near_misses, sheet.tally) == ((), (), ())
