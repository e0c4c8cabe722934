"""The hand-off note and what may not be on it."""

from companion.lesson import event as ev
from companion.lesson.handoff import INFORMATION_LINE, NO_MARK_LINE, as_text, hand_off_note
from companion.lesson.mark import FamilyContact, NoteKind, Source
from tests.lesson.builders import began, praise, reminder, told


def test_the_note_says_in_words_what_was_earned_and_what_for() -> None:
    """Routines by phase, the count, the recognition, and that that is only for the reader to know."""
    session = told(
        began("arrival", 0),
        praise(1_000),
        praise(2_000, routine="boots at the door", scope="table one"),
        reminder(3_000, routine="boots at the door"),
        ev.SessionSettled(),
    )
    text = as_text(hand_off_note(session))
    assert text.splitlines()[0] == "4-Hazel, Monday 14 September 2026, 09:10"
    assert "Recognition: Turned soil (2 praises, 1 reminder, margin +1)" in text
    assert "- arrival: the whole class; boots at the door (table one)" in text
    assert text.endswith(INFORMATION_LINE)


def test_private_notes_stand_on_the_note_with_what_is_done_about_the_family() -> None:
    """A note that names no child yet is left out."""
    session = told(
        began("arrival", 0),
        ev.NoteOpened(NoteKind.PEER_CONFLICT, 4_000, Source.VOICE),
        ev.NoteOpened(NoteKind.WENT_HOME_SOONER, 5_000, Source.VOICE),
        ev.NoteCompleted(
            "n3",
            "seat 12",
            NoteKind.PEER_CONFLICT,
            "over a trowel",
            FamilyContact("the specialist", "phone", "today"),
        ),
    )
    text = as_text(hand_off_note(session))
    assert "- seat 12: peer conflict, over a trowel. Family: the specialist by phone, today." in text
    assert "went home sooner" not in text


def test_dropped_marks_and_near_misses_are_not_on_the_note() -> None:
    """Only what stands is told."""
    session = told(began("arrival", 0), reminder(1_000), ev.MarkDropped("m3"))
    assert not hand_off_note(session).phases


def test_the_note_says_that_no_mark_was_made_only_where_that_is_so() -> None:
    """A class below the lowest level had marks, and one that the teacher overruled has its recognition."""
    overruled = ev.RecognitionOverruled("Full bloom", "They helped a new child.")
    for bodies, said in (((), True), ((reminder(1_000),), False), ((overruled,), False)):
        text = as_text(hand_off_note(told(began("arrival", 0), *bodies)))
        assert (NO_MARK_LINE in text) is said
    assert "Not settled with the class yet." in text
    settled = told(began("arrival", 0), overruled, ev.SessionSettled())
    assert "Not settled" not in as_text(hand_off_note(settled))


def test_what_was_marked_often_comes_first_and_says_how_often() -> None:
    """In the plan's order of phases, whatever order the lesson had them in."""
    session = told(
        began("cleanup", 0),
        praise(1_000, scope="table one"),
        praise(2_000, routine="tools back"),
        praise(3_000, routine="tools back"),
        began("arrival", 60_000),
        reminder(61_000),
    )
    note = hand_off_note(session)
    assert [(summary.phase, summary.praise, summary.reminder) for summary in note.phases] == [
        ("arrival", 0, 1),
        ("cleanup", 3, 0),
    ]
    text = as_text(note)
    assert "What went well:\n- cleanup: tools back (2 times); table one\n" in text
    assert "What to work on:\n- arrival: the whole class\n" in text
