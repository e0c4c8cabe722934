"""The session that is going on."""

from datetime import timedelta

import pytest

from companion.errors import CompanionError
from companion.lesson import event as ev
from companion.lesson.command import Action, Command
from companion.lesson.mark import Kind, Source
from companion.lesson.opening import Opening
from companion.log.forget import SESSIONS, take_out, whole_sessions
from companion.log.store import SessionLog, open_log
from companion.settings.settings import parse_settings
from tests.recording.recorders import HAZEL, PRAISE, candidate, recorder_on
from tests.school_day import SETTINGS, HandClock


def test_a_key_is_stamped_with_the_moment_when_it_went_down(log: SessionLog, clock: HandClock) -> None:
    """A gesture that took its time to be decided marks the moment at which it began."""
    recorder = recorder_on(log, clock)
    recorder.open(HAZEL, Source.CLOCK, None)
    clock.go_on(60)
    recorder.command(PRAISE, clock.steady_s() - 0.7, Source.KEY)
    assert recorder.session is not None
    assert recorder.session.marks[0].at_ms == 59_300


def test_a_phrase_is_stamped_with_its_own_beginning_on_the_sessions_clock(
    log: SessionLog, clock: HandClock
) -> None:
    """A spotter's times count from its first sample, which came twelve seconds after the opening."""
    recorder = recorder_on(log, clock)
    session_id = recorder.open(HAZEL, Source.CLOCK, "test").id
    clock.go_on(12)
    zero_s = clock.steady_s()
    clock.go_on(5)
    recorder.candidate(session_id, candidate("lovely teamwork", 3_000), zero_s)
    recorder.candidate(session_id, candidate("gentle reminder", 4_000, fired=False), zero_s)
    session = recorder.session
    assert session is not None
    assert [mark.at_ms for mark in session.marks] == [15_000]
    assert [miss.at_ms for miss in session.near_misses] == [16_000]


def test_what_a_slow_recogniser_decides_after_the_end_counts_in_its_own_session(
    log: SessionLog, clock: HandClock
) -> None:
    """The next class has come already; the mark belongs to the one that was there."""
    recorder = recorder_on(log, clock)
    first = recorder.open(HAZEL, Source.CLOCK, "test").id
    zero_s = clock.steady_s()
    clock.go_on(60)
    second = recorder.open(Opening("2-Birch"), Source.CLOCK, "test").id
    recorder.candidate(first, candidate("lovely teamwork", 50_000), zero_s)
    assert [(mark.at_ms, mark.phase) for mark in log.session(first).marks] == [(50_000, "arrival")]
    assert log.session(second).marks == ()


def test_a_session_that_another_program_closed_is_let_go(log: SessionLog, clock: HandClock) -> None:
    """The page of another process may end the lesson; the recorder sees it when it looks again."""
    recorder = recorder_on(log, clock)
    session = recorder.open(HAZEL, Source.CLOCK, None)
    with open_log(log.path) as other:
        other.append(session.id, ev.SessionClosed(1000, Source.PAGE), at=clock.wall(), offset_ms=1000)
    assert recorder.look_again()
    assert recorder.session is None
    assert recorder.command(PRAISE, clock.steady_s(), Source.KEY) is None


def test_what_happens_without_a_session_is_no_error(log: SessionLog, clock: HandClock) -> None:
    """Between two classes a press changes nothing."""
    recorder = recorder_on(log, clock)
    assert recorder.command(PRAISE, clock.steady_s(), Source.KEY) is None
    assert recorder.close(Source.KEY) is None
    recorder.lose_hearing("the microphone is not there", clock.steady_s())
    assert log.summaries() == []


def test_a_new_session_closes_the_one_before_and_starts_at_zero(log: SessionLog, clock: HandClock) -> None:
    """The class before is closed to listening, and waits unsettled for its review."""
    recorder = recorder_on(log, clock)
    recorder.open(HAZEL, Source.CLOCK, None)
    recorder.command(PRAISE, clock.steady_s(), Source.KEY)
    clock.go_on(2700)
    session = recorder.open(Opening("2-Birch"), Source.CLOCK, None)
    assert session.praise == 0
    assert [(s.class_group, s.closed, s.settled) for s in log.summaries()] == [
        ("2-Birch", False, False),
        ("4-Hazel", True, False),
    ]


def test_a_plan_that_is_not_there_leaves_the_open_session_alone(log: SessionLog, clock: HandClock) -> None:
    """A wrong name is refused before anything is closed."""
    recorder = recorder_on(log, clock)
    recorder.open(HAZEL, Source.CLOCK, None)
    with pytest.raises(CompanionError, match="kiln"):
        recorder.open(Opening("2-Birch", plan="kiln"), Source.KEY, None)
    assert recorder.session is not None
    assert not recorder.session.closed


def test_stretches_without_hearing_are_kept_with_their_reasons(log: SessionLog, clock: HandClock) -> None:
    """One reason that turns into another makes two stretches, and hearing again ends the second."""
    recorder = recorder_on(log, clock)
    recorder.open(HAZEL, Source.CLOCK, None)
    for seconds, reason in ((10, "muted"), (20, "gone"), (25, "gone")):
        recorder.lose_hearing(reason, recorder.zero_s + seconds)
    recorder.regain_hearing(recorder.zero_s + 40)
    recorder.regain_hearing(recorder.zero_s + 50)
    assert recorder.session is not None
    assert [(s.began_ms, s.ended_ms, s.reason) for s in recorder.session.unheard] == [
        (10_000, 20_000, "muted"),
        (20_000, 40_000, "gone"),
    ]


def test_steps_of_the_review_go_into_closed_sessions_in_order(log: SessionLog, clock: HandClock) -> None:
    """The review of one class may go on while the next one is open."""
    recorder = recorder_on(log, clock)
    first = recorder.open(HAZEL, Source.CLOCK, None).id
    recorder.command(PRAISE, clock.steady_s(), Source.KEY)
    clock.go_on(2700)
    recorder.open(Opening("2-Birch"), Source.CLOCK, None)
    mark = log.session(first).marks[0].id
    clock.jump(timedelta(hours=-2))
    recorded = recorder.record(first, [ev.MarkDropped(mark, "meant the class before")])
    assert recorded.session.praise == 0
    offsets = [event.offset_ms for event in log.events(first)]
    assert offsets == sorted(offsets)


@pytest.mark.parametrize("source", [Source.KEY, Source.PAGE])
def test_undo_just_after_the_end_lets_the_lesson_go_on(
    log: SessionLog, clock: HandClock, source: Source
) -> None:
    """Its time goes on, marks count again, and the stretch between is known as not heard."""
    recorder = recorder_on(log, clock)
    session = recorder.open(HAZEL, Source.KEY, "test")
    clock.go_on(60)
    recorder.close(Source.KEY)
    clock.go_on(20)
    if source is Source.KEY:
        recorder.command(Command(Action.UNDO), clock.steady_s(), source)
    else:
        recorder.take_back(session.id, source)
    clock.go_on(5)
    recorder.command(PRAISE, clock.steady_s(), Source.KEY)
    assert recorder.session is not None
    assert [mark.at_ms for mark in recorder.session.marks] == [85_000]
    assert [(gap.began_ms, gap.ended_ms) for gap in recorder.session.unheard] == [(60_000, 80_000)]


def test_the_end_of_a_lesson_stays_while_another_is_going_on(log: SessionLog, clock: HandClock) -> None:
    """Two lessons at once would be none; what can't be done is said, and the key does nothing."""
    recorder = recorder_on(log, clock)
    first = recorder.open(HAZEL, Source.KEY, None)
    clock.go_on(60)
    recorder.open(Opening("2-Birch"), Source.KEY, None)
    with pytest.raises(CompanionError, match="The lesson of 2-Birch is going on"):
        recorder.take_back(first.id, Source.PAGE)
    assert log.session(first.id).closed


def test_a_lesson_is_opened_with_all_that_waits_to_be_said(log: SessionLog, clock: HandClock) -> None:
    """Also what an earlier lesson left and the last one did not say."""
    recorder = recorder_on(log, clock)
    for words in ("Close the tap.", "Tools by the handle."):
        session = recorder.open(HAZEL, Source.KEY, None)
        recorder.record(session.id, [ev.CarryOverWritten(words)])
        clock.go_on(60)
    assert [one.text for one in recorder.open(HAZEL, Source.KEY, None).to_say] == [
        "Close the tap.",
        "Tools by the handle.",
    ]


def test_a_cue_that_no_command_followed_is_kept_for_the_review(log: SessionLog, clock: HandClock) -> None:
    """It names no command, and is a near miss all the same."""
    recorder = recorder_on(log, clock)
    session = recorder.open(Opening("4-Hazel"), Source.KEY, "test")
    recorded = recorder.candidate(session.id, candidate("", 1_000, fired=False), recorder.zero_s)
    assert recorded is not None
    assert recorded.session.near_misses[0].cue_alone
    assert recorder.candidate(session.id, candidate("no phrase of ours", 2_000), recorder.zero_s) is None


def test_a_lesson_that_is_ended_as_a_step_is_let_go(log: SessionLog, clock: HandClock) -> None:
    """And a step into a lesson that nobody goes on with begins none."""
    recorder = recorder_on(log, clock)
    session = recorder.open(HAZEL, Source.CLOCK, None)
    other = recorder_on(log, clock)
    other.record(session.id, [ev.TeacherViewed("Calm.")])
    assert other.session is None
    recorder.record(session.id, [ev.SessionClosed(0, Source.PAGE)])
    assert recorder.session is None


def test_a_session_that_another_program_took_out_is_let_go(log: SessionLog, clock: HandClock) -> None:
    """Nothing is recorded of it any more, and no sign of life is left."""
    recorder = recorder_on(log, clock)
    session = recorder.open(HAZEL, Source.CLOCK, None)
    assert not recorder.look_again()
    assert log.path.with_suffix(".beat").exists()
    with open_log(log.path) as other:
        take_out(other, whole_sessions([session.id]), SESSIONS, clock.wall())
    assert recorder.look_again()
    assert (recorder.session, recorder.zero_s) == (None, 0.0)
    assert not log.path.with_suffix(".beat").exists()


def test_what_another_program_marked_is_taken_up(log: SessionLog, clock: HandClock) -> None:
    """The lesson goes on with it."""
    recorder = recorder_on(log, clock)
    session = recorder.open(HAZEL, Source.CLOCK, None)
    with open_log(log.path) as other:
        other.append(session.id, ev.MarkAdded(Kind.PRAISE, "arrival"), at=clock.wall(), offset_ms=1)
    assert recorder.look_again()
    assert recorder.session is not None
    assert recorder.session.praise == 1


def test_hearing_lost_in_one_lesson_is_not_lost_in_the_next(log: SessionLog, clock: HandClock) -> None:
    """Each begins with what its own ear says."""
    recorder = recorder_on(log, clock)
    recorder.open(HAZEL, Source.CLOCK, None)
    recorder.lose_hearing("muted", recorder.zero_s + 1)
    recorder.open(Opening("2-Birch"), Source.CLOCK, None)
    recorder.lose_hearing("muted", recorder.zero_s + 2)
    assert recorder.session is not None
    assert len(recorder.session.unheard) == 1
    recorder.regain_hearing(recorder.zero_s + 3)
    recorder.lose_hearing("muted", recorder.zero_s + 4)
    assert len(recorder.session.unheard) == 2


def test_a_request_that_a_hand_sends_again_is_recorded_once(log: SessionLog, clock: HandClock) -> None:
    """In the lesson and in its review."""
    recorder = recorder_on(log, clock)
    session = recorder.open(HAZEL, Source.CLOCK, None)
    wishes = ("01ARZ3NDEKTSV4RRFFQ69G5FAV", "01ARZ3NDEKTSV4RRFFQ69G5FAW", "01ARZ3NDEKTSV4RRFFQ69G5FAX")
    for again in (False, True):
        recorded = recorder.command(PRAISE, recorder.zero_s, Source.PAGE, request=wishes[0])
        assert recorded is not None
        assert recorded.again is again
        added = recorder.record(session.id, [ev.MarkAdded(Kind.PRAISE, "arrival")], request=wishes[1])
        assert added.again is again
    assert recorder.session is not None
    assert recorder.session.praise == 2
    recorder.close(Source.KEY)
    for again in (False, True):
        viewed = recorder.record(session.id, [ev.TeacherViewed("Calm.")], request=wishes[2])
        assert viewed.again is again


def test_a_lesson_has_what_the_settings_say_and_begins_where_it_is_told(
    log: SessionLog, clock: HandClock
) -> None:
    """Its room is that of the opening, else of the settings; marks are told at once unless they are held."""
    recorder = recorder_on(log, clock)
    session = recorder.open(HAZEL, Source.CLOCK, "test", begins_in="cleanup")
    assert [span.name for span in session.phases] == ["cleanup"]
    assert (session.room, session.tables, session.holds_marks) == ("garden and kitchen", ("four",), False)
    assert [level.name for level in session.levels] == ["ripe harvest", "green shoots"]
    recorder.settings = parse_settings(SETTINGS + '[telling]\nmarks = "held"\n', "test.toml")
    session = recorder.open(Opening("4-Hazel", room="the yard"), Source.CLOCK, None)
    assert (session.room, session.holds_marks) == ("the yard", True)


def test_what_was_heard_of_no_session_of_ours_is_nothing(log: SessionLog, clock: HandClock) -> None:
    """And of a settled one it is an error, as anything that moves its count."""
    recorder = recorder_on(log, clock)
    session = recorder.open(HAZEL, Source.CLOCK, "test")
    heard = candidate("lovely teamwork", 1_000)
    assert recorder.candidate("01ARZ3NDEKTSV4RRFFQ69G5FAV", heard, recorder.zero_s) is None
    zero_s = recorder.zero_s
    clock.go_on(60)
    recorder.close(Source.KEY)
    recorder.record(session.id, [ev.SessionSettled()])
    with pytest.raises(CompanionError, match="settled"):
        recorder.candidate(session.id, heard, zero_s)


def test_a_lesson_may_have_ended_a_while_ago(log: SessionLog, clock: HandClock) -> None:
    """The key that ended it is what counts; a moment before the lesson is its beginning."""
    recorder = recorder_on(log, clock)
    recorder.open(HAZEL, Source.CLOCK, None)
    clock.go_on(60)
    closed = recorder.close(Source.KEY, clock.steady_s() - 10)
    assert closed is not None
    assert closed.closed_ms == 50_000
    assert log.events(closed.id)[-1].offset_ms == 60_000
    recorder.open(HAZEL, Source.CLOCK, None)
    assert recorder.offset_ms(recorder.zero_s - 5) == 0


def test_the_end_of_a_lesson_can_be_taken_back_from_any_page(log: SessionLog, clock: HandClock) -> None:
    """What is taken back is recorded no sooner than what came before, whatever the wall clock says."""
    recorder = recorder_on(log, clock)
    session = recorder.open(HAZEL, Source.KEY, None)
    clock.go_on(60)
    recorder.record(session.id, [ev.TeacherViewed("Calm.")])
    assert recorder.take_back(session.id, Source.PAGE).session.teacher_view == ""
    recorder.close(Source.KEY)
    clock.jump(timedelta(hours=-1))
    recorder.take_back(session.id, Source.PAGE)
    assert recorder.session is not None
    assert (recorder.session.closed, recorder.now_ms) == (False, 60_000)
