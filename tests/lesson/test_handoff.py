"""The hand-off note and what may not be on it."""

from dataclasses import replace

from companion.lesson import event as ev
from companion.lesson.handoff import (
    INFORMATION_LINE,
    NO_MARK_LINE,
    advice_of,
    as_text,
    hand_off_note,
    meaning_of,
)
from companion.lesson.mark import FamilyContact, NoteKind, Source
from companion.lesson.recognition import Level
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


def test_what_the_level_means_is_said_to_somebody_who_does_not_know_the_table() -> None:
    """Its place and what it takes; below the lowest, what that takes."""
    begun = told(began("arrival", 0))

    def meaning(levels: tuple[Level, ...], *bodies: ev.Body) -> str:
        return meaning_of(replace(told(began("arrival", 0), *bodies), levels=levels))

    low, high = Level("Turned soil", 1), Level("Full bloom", 6)
    for marks, said in (
        (1, "Level 1 of 2, counted from the lowest: it takes at least 1 praise more than reminders."),
        (6, "Level 2 of 2, counted from the lowest: it takes at least 6 praises more than reminders."),
    ):
        assert meaning((high, low), *(praise(1_000 * at) for at in range(marks))) == said
    assert meaning((high, low), reminder(1)).startswith(
        "The first of 2 levels, Turned soil, takes at least 1"
    )
    assert meaning((Level("Seed", 0), low), praise(1), reminder(2)).endswith("as many praises as reminders.")
    assert meaning((Level("Seed", -2),), reminder(1)).endswith("at most 2 reminders more than praises.")
    assert meaning_of(begun) == ""


def test_an_overruled_level_gives_its_reason() -> None:
    """So that it is not taken for what the margin earned."""
    overruled = ev.RecognitionOverruled("Full bloom", "They helped a new child.")
    text = as_text(hand_off_note(told(began("arrival", 0), reminder(1_000), overruled)))
    assert "The teacher decided on it, whatever the margin says: They helped a new child." in text


def test_one_sentence_says_what_to_keep_and_what_to_work_on() -> None:
    """A named routine comes before one that was not named; what a table did is not said of the class."""
    of_a_table = replace(reminder(4), scope="table one")
    bodies = (praise(1), praise(2), praise(3, routine="boots at the door"), of_a_table)
    session = told(began("arrival", 0), *bodies)
    assert advice_of(session) == "Keep praising “boots at the door” (arrival)."
    both = told(began("arrival", 0), *bodies, reminder(5))
    assert advice_of(both) == (
        "Keep praising “boots at the door” (arrival), and practise how arrival goes once before it is needed."
    )
    arrival = (began("arrival", 0), praise(1), praise(2), reminder(3))
    assert advice_of(told(*arrival)) == "Keep praising how arrival goes."
    cleanup = (began("cleanup", 10), reminder(11))
    assert advice_of(told(*arrival, *cleanup)) == (
        "Keep praising how arrival goes, and practise how cleanup goes once before it is needed."
    )
    worse = (reminder(4), reminder(5), began("cleanup", 10), praise(11))
    assert advice_of(told(*arrival, *worse)) == (
        "Keep praising how cleanup goes, and practise how arrival goes once before it is needed."
    )
    assert advice_of(told(began("arrival", 0), reminder(5))).startswith("Practise how arrival goes once")
    assert advice_of(told(began("arrival", 0))) == ""
