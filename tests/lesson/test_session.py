"""The fold: what a session is, from what happened in it."""

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.lesson import event as ev
from companion.lesson.command import Action, Command
from companion.lesson.fold import fold, tell
from companion.lesson.mark import FamilyContact, Kind, MarkState, NoteKind, Source
from tests.lesson.builders import AT, LEVELS, OPENED, PLAN, began, events, many, praise, reminder, told

UNDO = ev.UndoAsked(0, Source.VOICE)
TIMES = st.integers(0, 3_600_000)
PHASES = st.sampled_from([phase.name for phase in PLAN])
SOURCES = st.sampled_from(Source)

BODIES = st.one_of(
    st.builds(ev.PhaseBegan, PHASES, TIMES, SOURCES),
    st.builds(ev.MarkMade, st.sampled_from(Kind), TIMES, SOURCES, confidence=st.floats(0, 1)),
    st.builds(ev.UndoAsked, TIMES, SOURCES),
    st.builds(ev.NoteOpened, st.sampled_from(NoteKind), TIMES, SOURCES),
    st.builds(ev.ListeningPaused, TIMES, SOURCES),
    st.builds(ev.ListeningResumed, TIMES, SOURCES),
    st.builds(ev.HearingLost, TIMES, st.just("muted")),
    st.builds(ev.HearingRegained, TIMES),
    st.builds(ev.MarkDropped, st.integers(2, 30).map("m{}".format)),
    st.builds(ev.MarkKept, st.integers(2, 30).map("m{}".format)),
    st.builds(ev.MarkRestored, st.integers(2, 30).map("m{}".format)),
    st.builds(ev.MarkChanged, st.integers(2, 30).map("m{}".format), phase=st.none() | PHASES),
    st.builds(ev.MarkAdded, st.sampled_from(Kind), PHASES),
    st.builds(
        ev.NoteCompleted, st.integers(2, 30).map("n{}".format), st.just("seat 3"), st.just(NoteKind.OTHER)
    ),
    st.builds(ev.EventTakenBack, st.integers(2, 30)),
)


@given(st.lists(BODIES, max_size=30), st.integers(0, 30))
def test_the_fold_that_goes_on_is_the_fold_from_the_beginning(bodies: list[ev.Body], known: int) -> None:
    """For any events and from any of them on; and what was told before stays as it was."""
    all_events = events(*bodies)
    telling = tell(all_events[: known + 1])
    for number, event in enumerate(all_events[known + 1 :], start=known + 1):
        further = telling.go_on(event)
        assert further.session == fold(all_events[: number + 1])
        assert telling.go_on(event) == further
        telling = further


def test_a_session_starts_at_zero_in_its_first_phase() -> None:
    """A carry-over of the last session is never a mark here."""
    session = fold(
        [
            replace(events()[0], body=replace(OPENED, carry_over="Try the quiet line again.")),
            *events(began("arrival", 0))[1:],
        ]
    )
    assert (session.praise, session.reminder, session.margin) == (0, 0, 0)
    assert session.phase is not None
    assert session.phase.name == "arrival"
    assert session.carry_over_before == "Try the quiet line again."


def test_a_mark_belongs_to_the_phase_in_which_its_phrase_began() -> None:
    """A phrase that began before the phase changed but was decided after it stays in the old phase."""
    session = told(began("arrival", 0), began("work time", 60_000), praise(59_500), praise(60_000))
    assert [mark.phase for mark in session.marks] == ["arrival", "work time"]


def test_a_phase_recorded_late_takes_the_marks_that_it_covers() -> None:
    """A spoken phase change is dated back to where it began, past marks recorded before it."""
    session = told(began("arrival", 0), praise(61_000), began("work time", 60_000))
    assert session.marks[0].phase == "work time"


def test_undo_takes_back_the_newest_mark_that_still_stands() -> None:
    """Two undos in a row take back two marks; a dropped one is passed over."""
    session = told(began("arrival", 0), praise(1_000), reminder(2_000), praise(3_000), UNDO, UNDO)
    assert [mark.state.stands for mark in session.marks] == [True, False, False]
    assert session.marks[1].state is MarkState.UNDONE


def test_an_undo_with_none_standing_is_recorded_and_changes_nothing() -> None:
    """It counts as a vain undo and takes no later mark with it."""
    session = told(began("arrival", 0), UNDO, praise(1_000))
    assert session.vain_undos == 1
    assert session.praise == 1


@given(st.lists(BODIES, max_size=25))
def test_individual_notes_never_move_the_count(bodies: list[ev.Body]) -> None:
    """A note opened anywhere in any session leaves praise, reminders and recognition as they were."""
    plain = told(*bodies)
    note = ev.NoteOpened(NoteKind.TIME_OUT, 1_000, Source.VOICE)
    # Appended, since marks are named by the numbers of their events.
    noted = told(*bodies, note)
    assert (plain.praise, plain.reminder, plain.recognition) == (
        noted.praise,
        noted.reminder,
        noted.recognition,
    )
    assert len(noted.notes) == len(plain.notes) + 1


@given(st.lists(BODIES, max_size=30))
def test_folding_the_same_events_gives_the_same_session(bodies: list[ev.Body]) -> None:
    """The fold has no memory, no clock and no chance in it."""
    assert fold(events(*bodies)) == fold(events(*bodies))


@given(st.lists(BODIES, max_size=30), st.lists(st.integers(-86_400, 86_400), min_size=31, max_size=31))
def test_a_jumping_wall_clock_changes_neither_order_nor_phase(
    bodies: list[ev.Body], jumps: list[int]
) -> None:
    """Only the sequence number and the monotonic offset say when something was."""
    calm = events(*bodies)
    jumped = [
        replace(event, at=AT + timedelta(seconds=jump)) for event, jump in zip(calm, jumps, strict=False)
    ]
    assert replace(fold(jumped), opened_at=AT) == fold(calm)


@given(st.lists(BODIES, max_size=30))
def test_the_margin_is_the_standing_praise_minus_the_standing_reminders(bodies: list[ev.Body]) -> None:
    """Counts never go below zero, and a mark that does not stand does not count."""
    session = told(*bodies)
    kinds = [mark.kind for mark in session.marks if mark.state not in (MarkState.DROPPED, MarkState.UNDONE)]
    assert session.praise == kinds.count(Kind.PRAISE)
    assert session.reminder == kinds.count(Kind.REMINDER)
    assert session.margin == session.praise - session.reminder


@given(st.lists(BODIES, max_size=30))
def test_phases_follow_each_other_without_a_gap(bodies: list[ev.Body]) -> None:
    """Each phase ends where the next begins; only the last is open."""
    spans = told(*bodies).phases
    assert [span.ended_ms for span in spans[:-1]] == [span.began_ms for span in spans[1:]]
    assert all(span.ended_ms is None for span in spans[-1:])


@pytest.mark.parametrize(
    ("praises", "reminders", "recognition"),
    [
        (0, 0, None),
        (1, 1, "Sprouting"),
        (0, 1, None),
        (2, 0, "In bud"),
        (5, 4, "Sprouting"),
        (4, 0, "In bud"),
        (5, 0, "Full bloom"),
        (300, 294, "Full bloom"),
        (300, 301, None),
    ],
)
def test_the_recognition_depends_on_the_margin(praises: int, reminders: int, recognition: str | None) -> None:
    """A level is reached exactly at its least margin; below the lowest and without any mark there is none."""
    session = told(began("arrival", 0), *many(praise(1_000), praises), *many(reminder(2_000), reminders))
    assert session.recognition == recognition


def test_the_next_level_is_the_lowest_one_not_reached_yet() -> None:
    """The live page says what the class needs for it; at the top there is none."""
    assert told(began("arrival", 0)).next_level == LEVELS[2]
    assert told(began("arrival", 0), praise(1)).next_level == LEVELS[1]
    assert told(began("arrival", 0), *many(praise(1), 5)).next_level is None


def test_the_teacher_can_overrule_the_recognition_and_the_log_says_why() -> None:
    """The margin stays what it is."""
    session = told(
        began("arrival", 0), praise(1_000), ev.RecognitionOverruled("Full bloom", "They helped a new child.")
    )
    assert session.recognition == "Full bloom"
    assert session.margin == 1
    assert session.overruled is not None
    assert session.overruled.reason == "They helped a new child."


def test_the_review_moves_adds_drops_and_restores_marks() -> None:
    """Each step is an event; the stamp of the phase is kept beside the review's own."""
    session = told(
        began("arrival", 0),
        began("work time", 60_000),
        praise(61_000),
        reminder(70_000),
        ev.MarkChanged("m4", phase="arrival", routine="walk in quietly"),
        ev.MarkDropped("m5", "it was a child"),
        ev.MarkAdded(Kind.REMINDER, "work time"),
    )
    moved, added, dropped = session.mark("m4"), session.mark("m8"), session.mark("m5")
    assert moved is not None
    assert (moved.phase, moved.stamped_phase, moved.routine) == ("arrival", "work time", "walk in quietly")
    assert added is not None
    assert (added.at_ms, added.phase, added.state) == (60_000, "work time", MarkState.ADDED)
    assert dropped is not None
    assert not dropped.state.stands
    assert session.margin == 0


def test_a_near_miss_counts_only_once_it_is_confirmed() -> None:
    """Confirming it twice makes one mark."""
    heard = ev.NearMissHeard("table one praise", 5_000, 0.4, Command(Action.PRAISE, scope="table one"))
    assert told(began("arrival", 0), heard).praise == 0
    confirmed = ev.NearMissConfirmed("c3", Kind.PRAISE)
    session = told(began("arrival", 0), heard, confirmed, confirmed)
    assert session.praise == 1
    assert session.marks[0].scope == "table one"
    assert session.near_misses[0].answered


def test_a_step_of_the_review_can_be_taken_back() -> None:
    """What happened in the lesson itself can't."""
    session = told(
        began("arrival", 0), praise(1_000), ev.MarkDropped("m3"), ev.EventTakenBack(4), ev.EventTakenBack(3)
    )
    assert session.praise == 1
    assert session.steps == ()


def test_a_crash_leaves_a_stretch_that_was_not_heard() -> None:
    """The review names it; the count goes on."""
    session = told(began("arrival", 0), praise(1_000), ev.CompanionRestarted(2_000, 9_000), praise(10_000))
    assert session.praise == 2
    assert [(gap.began_ms, gap.ended_ms) for gap in session.unheard] == [(2_000, 9_000)]


def test_a_note_is_completed_with_child_and_family_contact() -> None:
    """It keeps the phase in which it was opened."""
    contact = FamilyContact("the class's own teacher", "phone", "tomorrow")
    session = told(
        began("arrival", 0),
        ev.NoteOpened(NoteKind.HEALTH_OFFICE, 4_000, Source.VOICE),
        ev.NoteCompleted("n3", "seat 12", NoteKind.HEALTH_OFFICE, "a splinter", contact),
    )
    assert session.notes[0].complete
    assert (session.notes[0].phase, session.notes[0].contact) == ("arrival", contact)


def test_a_session_without_its_opening_is_refused() -> None:
    """There is nothing to fold."""
    with pytest.raises(ValueError, match="opens it"):
        fold([])
    with pytest.raises(ValueError, match="opens it"):
        fold(events(began("arrival", 0))[1:])
