"""Near misses of every kind of phrase, and what confirming them does."""

import pytest

from companion.lesson import event as ev
from companion.lesson import review
from companion.lesson.command import Action, Command
from companion.lesson.doubts import review_list
from companion.lesson.mark import Kind, NoteKind, Source
from companion.lesson.session import Session
from tests.lesson.builders import began, praise, told

LESSON = (began("arrival", 0), praise(20_000), praise(70_000), praise(110_000))


def heard(command: Command, at_ms: int = 60_000) -> ev.NearMissHeard:
    """Return a near miss at a minute of the lesson."""
    return ev.NearMissHeard("what was said", at_ms, 0.5, command, "pocketsphinx")


def confirmed(*commands: ev.NearMissHeard) -> Session:
    """Return the lesson in which all of these were heard and then confirmed."""
    session = told(*LESSON, *commands)
    return told(*LESSON, *commands, *review.confirm(session, [miss.id for miss in session.near_misses]))


@pytest.mark.parametrize(
    ("command", "wish"),
    [
        (Command(Action.PRAISE, scope="table one"), "praise (table one)"),
        (Command(Action.NOTE, note=NoteKind.HEALTH_OFFICE), "note: health office"),
        (Command(Action.PHASE, phase="cleanup"), "phase cleanup"),
        (Command(Action.NEXT_PHASE), "next phase"),
        (Command(Action.UNDO), "undo"),
        (Command(Action.PAUSE), "pause listening"),
    ],
)
def test_every_near_miss_is_in_the_review_and_says_what_it_asked_for(command: Command, wish: str) -> None:
    """Whatever the phrase does; once it is answered it is gone, and the answer can be taken back."""
    session = told(*LESSON, heard(command))
    assert [miss.wish for miss in review_list(session).near_misses] == [wish]
    step = review.confirm(session, [session.near_misses[0].id])
    assert review_list(told(*LESSON, heard(command), *step)).near_misses == ()
    back = (ev.EventTakenBack(len(LESSON) + 3 + place) for place in range(len(step)))
    again = told(*LESSON, heard(command), *step, *back)
    assert (again.marks, again.notes, again.phases) == (session.marks, session.notes, session.phases)
    assert len(review_list(again).near_misses) == 1


def test_a_cue_alone_asked_for_a_mark() -> None:
    """Of which kind, nobody knows."""
    assert told(*LESSON, ev.NearMissHeard("", 60_000, 0.5, None)).near_misses[0].wish == "a mark"


def test_a_missed_note_is_begun_at_its_moment() -> None:
    """It waits to be completed as one that was heard, and never moves the count."""
    session = confirmed(heard(Command(Action.NOTE, note=NoteKind.PEER_CONFLICT)))
    (note,) = session.notes
    assert (note.id, note.at_ms, note.kind, note.complete) == ("n7", 60_000, NoteKind.PEER_CONFLICT, False)
    assert (note.phase, note.source, session.praise) == ("arrival", Source.VOICE, 3)


def test_a_missed_phase_takes_the_marks_that_came_after_it() -> None:
    """The next one of the plan, or the one that was named; after the last one nothing changes."""
    session = confirmed(
        heard(Command(Action.NEXT_PHASE)), heard(Command(Action.PHASE, phase="cleanup"), 100_000)
    )
    assert [mark.phase for mark in session.marks] == ["arrival", "work time", "cleanup"]
    last = confirmed(heard(Command(Action.PHASE, phase="cleanup")), heard(Command(Action.NEXT_PHASE), 50_000))
    assert [span.name for span in last.phases] == ["arrival", "work time", "cleanup"]


def test_a_missed_undo_drops_the_mark_before_it() -> None:
    """Not the ones after."""
    session = confirmed(heard(Command(Action.UNDO)))
    assert [mark.at_ms for mark in session.standing] == [70_000, 110_000]
    at_once = confirmed(heard(Command(Action.UNDO), 70_000))
    assert [mark.at_ms for mark in at_once.standing] == [20_000, 110_000]
    assert len(confirmed(heard(Command(Action.UNDO), 1_000)).standing) == 3


def test_a_near_miss_of_a_mark_is_one_as_before() -> None:
    """With the kind that it was heard with, or another one."""
    session = told(*LESSON, heard(Command(Action.PRAISE)))
    made = told(*LESSON, heard(Command(Action.PRAISE)), *review.confirm(session, ["c6"], Kind.REMINDER))
    assert (made.praise, made.reminder) == (3, 1)
    assert [mark.id for mark in made.untold] == ["m7"]
