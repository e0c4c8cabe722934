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
from companion.lesson.plan import Plan
from companion.lesson.session import SelfRating
from tests.lesson.any_event import BODIES
from tests.lesson.builders import AT, LEVELS, OPENED, PLAN, began, events, many, praise, reminder, told

UNDO = ev.UndoAsked(0, Source.VOICE)


def test_a_session_starts_at_zero_in_its_first_phase() -> None:
    """A carry-over of the last session is never a mark here."""
    session = fold(
        [
            replace(events()[0], body=replace(OPENED, carry_over="Stand ready at the gate again.")),
            *events(began("arrival", 0))[1:],
        ]
    )
    assert (session.praise, session.reminder, session.margin) == (0, 0, 0)
    assert session.phase is not None
    assert session.phase.name == "arrival"
    assert session.carry_over_before == "Stand ready at the gate again."


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
    """Each phase ends where the next begins; only the last is open, until the lesson is over."""
    session = told(*bodies)
    spans = session.phases
    assert [span.ended_ms for span in spans[:-1]] == [span.began_ms for span in spans[1:]]
    assert all((span.ended_ms is None) is not session.closed for span in spans[-1:])


@pytest.mark.parametrize(
    ("praises", "reminders", "recognition"),
    [
        (0, 0, None),
        (1, 1, "Turned soil"),
        (0, 1, None),
        (2, 0, "Green row"),
        (5, 4, "Turned soil"),
        (4, 0, "Green row"),
        (5, 0, "Harvest table"),
        (300, 294, "Harvest table"),
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
    high = replace(OPENED, levels=LEVELS[:2])
    assert fold([replace(events()[0], body=high)]).next_level == LEVELS[1]


def test_the_teacher_can_overrule_the_recognition_and_the_log_says_why() -> None:
    """The margin stays what it is."""
    session = told(
        began("arrival", 0),
        praise(1_000),
        ev.RecognitionOverruled("Harvest table", "They helped a new child."),
    )
    assert session.recognition == "Harvest table"
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
        ev.MarkChanged("m4", phase="arrival", routine="boots at the door"),
        ev.MarkDropped("m5", "it was a child"),
        ev.MarkAdded(Kind.REMINDER, "work time"),
    )
    moved, added, dropped = session.mark("m4"), session.mark("m8"), session.mark("m5")
    assert moved is not None
    assert (moved.phase, moved.stamped_phase, moved.routine) == ("arrival", "work time", "boots at the door")
    assert added is not None
    assert (added.at_ms, added.phase, added.state) == (60_000, "work time", MarkState.ADDED)
    assert dropped is not None
    assert not dropped.state.stands
    assert session.margin == 0


def test_a_kind_of_note_that_was_named_anew_still_reads() -> None:
    """In old logs and settings."""
    assert NoteKind("left early") is NoteKind.WENT_HOME_SOONER


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


@pytest.mark.parametrize("lost", [ev.HearingLost(1_000, "muted"), ev.ListeningPaused(1_000, Source.KEY)])
def test_the_end_of_the_lesson_ends_what_was_not_heard(lost: ev.Body) -> None:
    """Neither a gap nor a pause goes on after it."""
    session = told(began("arrival", 0), lost, ev.SessionClosed(9_000, Source.KEY))
    assert [(gap.began_ms, gap.ended_ms) for gap in (*session.unheard, *session.pauses)] == [(1_000, 9_000)]
    assert not session.paused


def test_a_restart_ends_the_stretch_that_was_open() -> None:
    """What was not heard before the crash and what was not watched after it are two stretches."""
    session = told(began("arrival", 0), ev.HearingLost(1_000, "muted"), ev.CompanionRestarted(5_000, 9_000))
    assert [(gap.began_ms, gap.ended_ms, gap.reason) for gap in session.unheard] == [
        (1_000, 5_000, "muted"),
        (5_000, 9_000, "the companion was not running"),
    ]


def test_an_added_mark_stands_where_the_teacher_put_it_though_its_phase_ran_twice() -> None:
    """Without a time it stands at the first beginning of its phase."""
    twice = (began("arrival", 0), began("work time", 60_000), began("arrival", 90_000))
    session = told(*twice, ev.MarkAdded(Kind.PRAISE, "arrival", 95_000), ev.MarkAdded(Kind.PRAISE, "arrival"))
    assert [(mark.id, mark.at_ms, mark.phase) for mark in session.marks] == [
        ("m6", 0, "arrival"),
        ("m5", 95_000, "arrival"),
    ]
    assert told(began("arrival", 500), ev.MarkAdded(Kind.PRAISE, "cleanup")).marks[0].at_ms == 0
    moved = told(*twice, ev.MarkAdded(Kind.PRAISE, "cleanup", 95_000))
    assert [(mark.at_ms, mark.phase, mark.stamped_phase) for mark in moved.marks] == [
        (95_000, "cleanup", "arrival")
    ]


def test_the_time_of_a_session_never_goes_back() -> None:
    """An event that is recorded late leaves the greatest time as it is."""
    late = events(began("arrival", 0), praise(9_000), praise(4_000))
    assert fold(late).last_ms == 9_000
    assert tell(late[:3]).go_on(late[3]).session.last_ms == 9_000


def test_an_answered_near_miss_makes_no_second_mark() -> None:
    """Dismissed, it can't be confirmed; confirmed, its mark stays when it is dismissed after all."""
    heard = ev.NearMissHeard("praise", 5_000, 0.4, Command(Action.PRAISE))
    dismissed, confirmed = ev.NearMissDismissed("c3"), ev.NearMissConfirmed("c3", Kind.PRAISE)
    assert told(began("arrival", 0), heard, dismissed, confirmed).marks == ()
    assert told(began("arrival", 0), heard, confirmed, dismissed).praise == 1


def test_a_mark_that_is_not_there_can_not_be_doubled() -> None:
    """The session is as if it had not been said; a mark that is there remembers by whom."""
    doubled = ev.MarkDoubled("m9", 1_000, Source.KEY)
    assert told(began("arrival", 0), doubled).marks == ()
    session = told(began("arrival", 0), praise(1_000), ev.MarkDoubled("m3", 1_100, Source.KEY))
    assert [mark.doubled_by for mark in session.marks] == [(Source.KEY,)]
    assert session.praise == 1


def test_a_near_miss_of_a_note_opens_one_note_however_often_it_is_confirmed() -> None:
    """The second confirmation finds it answered."""
    heard = ev.NearMissHeard("note", 5_000, 0.4, Command(Action.NOTE))
    confirmed = ev.NearMissConfirmed("c3", None)
    assert len(told(began("arrival", 0), heard, confirmed, confirmed).notes) == 1


def test_an_undo_takes_back_nothing_that_comes_after_it() -> None:
    """Whatever numbers a log that was cut or merged has."""
    session = told(began("arrival", 0), ev.LastTakenBack((3, 4), 500, Source.KEY), praise(1_000))
    assert session.praise == 1


def test_a_class_is_the_one_that_was_named_last() -> None:
    """With its plan; who names it without one leaves the plan as it was."""
    other = Plan("kitchen lesson", PLAN.phases[:2])
    named = (ev.ClassGroupNamed("2-Birch", other), ev.ClassGroupNamed("5-Oak"))
    assert (told(*named).class_group, told(*named).plan) == ("5-Oak", other)
    assert (told(named[1]).class_group, told(named[1]).plan) == ("5-Oak", PLAN)


def test_a_note_is_in_the_phase_that_covers_it_however_late_that_is_recorded() -> None:
    """As marks and near misses are."""
    notes = (ev.NoteOpened(NoteKind.OTHER, at_ms, Source.KEY) for at_ms in (59_000, 60_000))
    missed = (ev.NearMissHeard("praise", at_ms, 0.4, Command(Action.PRAISE)) for at_ms in (59_000, 60_000))
    session = told(began("arrival", 0), *notes, *missed, began("work time", 60_000))
    assert [note.phase for note in session.notes] == ["arrival", "work time"]
    assert [miss.phase for miss in session.near_misses] == ["arrival", "work time"]


def test_what_the_reflection_says_is_kept_as_it_was_said_last() -> None:
    """Of the class, of the teacher, and for next time; a settled session can be opened again."""
    said = (ev.SelfRated("so-so"), ev.SelfRated("went well", (9, 4, 2)), ev.TeacherViewed("A good start."))
    session = told(*said, ev.CarryOverWritten("Close the tap."), ev.SessionSettled())
    assert (session.self_rating, session.teacher_view) == (
        SelfRating("went well", (9, 4, 2)),
        "A good start.",
    )
    assert (session.carry_over, session.settled, session.reopened_for) == ("Close the tap.", True, ())
    again = told(*said, ev.SessionSettled(), ev.SessionReopened("a mark was missing"))
    assert (again.settled, again.reopened_for) == (False, ("a mark was missing",))
