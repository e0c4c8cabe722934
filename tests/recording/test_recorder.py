"""The session that is going on."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path

import pytest

from companion.errors import CompanionError
from companion.lesson import event as ev
from companion.lesson.command import Action, Command
from companion.lesson.mark import Kind, Source
from companion.lesson.opening import Opening
from companion.lesson.span import STOOD_STILL
from companion.listening.candidate import Candidate
from companion.log.forget import SESSIONS, take_out, whole_sessions
from companion.log.store import LogMovedError, SessionLog, open_log
from companion.recording.heartbeat import Heartbeat
from companion.recording.recorder import CONTINUED_WITHIN, PATIENCE_S, SHORT_PATIENCE_S, Recorder
from companion.settings.settings import parse_settings
from tests.school_day import SETTINGS, HandClock, settings
from tests.systems import moves_open_files

PRAISE = Command(Action.PRAISE)
HAZEL = Opening("4-Hazel")


@pytest.fixture
def clock() -> HandClock:
    """Give a clock that stands still."""
    return HandClock()


@pytest.fixture
def log(tmp_path: Path) -> Iterator[SessionLog]:
    """Give an empty session log."""
    with open_log(tmp_path / "sessions.db") as opened:
        yield opened


def recorder_on(log: SessionLog, clock: HandClock) -> Recorder:
    """Return a recorder as a companion that was just started has it."""
    return Recorder(log, settings(), clock, Heartbeat(log.path.with_suffix(".beat")))


@contextmanager
def locked(log: SessionLog) -> Iterator[None]:
    """Hold the log as a program does that writes and writes; nobody waits long for it."""
    log.wait_for_others(0.01)
    other = sqlite3.connect(log.path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    try:
        yield
    finally:
        other.execute("ROLLBACK")
        other.close()


def patience_s(log: SessionLog) -> float:
    """Return how long the log waits for another program."""
    with log.reading() as db:
        return float(db.execute("PRAGMA busy_timeout").fetchone()[0]) / 1000


def rescued(log: SessionLog) -> bool:
    """Whether there is a rescue file beside the log."""
    return log.path.with_name("sessions-rescue.jsonl").exists()


def candidate(phrase: str, begin_ms: int, *, fired: bool = True) -> Candidate:
    """Return a phrase as a spotter gives it."""
    return Candidate(phrase, begin_ms, begin_ms + 900, begin_ms + 1400, 0.9, fired, "test")


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


def test_after_a_crash_the_session_goes_on_with_the_gap_in_the_log(log: SessionLog, clock: HandClock) -> None:
    """Phase, count and the session's clock go on; the gap begins with the last sign of life."""
    recorder = recorder_on(log, clock)
    recorder.open(HAZEL, Source.CLOCK, None)
    clock.go_on(400)
    recorder.command(PRAISE, clock.steady_s(), Source.KEY)
    recorder.command(Command(Action.PHASE, phase="cleanup"), clock.steady_s(), Source.KEY)
    clock.go_on(20)
    recorder.beat()
    clock.go_on(100)

    again = recorder_on(log, clock)
    session = again.go_on()
    assert session is not None
    assert (session.praise, session.phase and session.phase.name) == (1, "cleanup")
    assert [(s.began_ms, s.ended_ms) for s in session.unheard] == [(420_000, 520_000)]
    clock.go_on(30)
    assert again.now_ms == 550_000


def test_a_clock_on_the_wall_that_went_back_makes_no_negative_gap(log: SessionLog, clock: HandClock) -> None:
    """The end of daylight saving during a restart leaves the order of things as it was."""
    recorder_on(log, clock).open(HAZEL, Source.CLOCK, None)
    clock.go_on(60)
    clock.jump(timedelta(hours=-1))
    session = recorder_on(log, clock).go_on()
    assert session is not None
    assert session.unheard[0].began_ms == session.unheard[0].ended_ms == 0


def test_a_session_that_was_forgotten_is_closed_and_not_gone_on_with(
    log: SessionLog, clock: HandClock
) -> None:
    """A companion that starts the next morning does not listen to yesterday's class."""
    recorder_on(log, clock).open(HAZEL, Source.CLOCK, None)
    clock.go_on(CONTINUED_WITHIN.total_seconds() + 60)
    assert recorder_on(log, clock).go_on() is None
    assert log.summaries()[0].closed


def test_the_plans_clock_begins_phases_on_their_minute_even_after_a_long_sleep(
    log: SessionLog, clock: HandClock
) -> None:
    """Arrival ends by the clock after five minutes; work time waits for the teacher."""
    recorder = recorder_on(log, clock)
    recorder.open(HAZEL, Source.CLOCK, None)
    assert not recorder.follow_plan()
    clock.go_on(3600)
    assert recorder.follow_plan()
    assert recorder.session is not None
    assert [(span.name, span.began_ms) for span in recorder.session.phases] == [
        ("arrival", 0),
        ("work time", 300_000),
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


def test_an_interrupted_session_goes_on_though_the_clock_was_set_back(
    log: SessionLog, clock: HandClock
) -> None:
    """A computer that began the day with a wrong date: a lesson of "tomorrow" is not the newest one."""
    clock.jump(timedelta(days=1))
    recorder = recorder_on(log, clock)
    recorder.open(HAZEL, Source.CLOCK, None)
    recorder.close(Source.CLOCK)
    clock.jump(timedelta(days=-1))
    opened = recorder.open(Opening("2-Birch"), Source.CLOCK, None)
    clock.go_on(30)
    session = recorder_on(log, clock).go_on()
    assert session is not None
    assert session.id == opened.id


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


def test_what_happens_while_the_log_is_locked_waits_and_is_written_with_its_own_times(
    log: SessionLog, clock: HandClock
) -> None:
    """A key, a phrase, the plan's clock and a deaf stretch; a rescue file keeps them until then."""
    recorder = recorder_on(log, clock)
    session = recorder.open(HAZEL, Source.CLOCK, "test")
    zero_s = recorder.zero_s
    with locked(log):
        clock.go_on(5)
        recorded = recorder.command(PRAISE, zero_s + 1, Source.KEY)
        assert recorded is not None
        assert (recorded.waits, recorder.waiting, rescued(log)) == (True, 1, True)
        assert patience_s(log) == SHORT_PATIENCE_S
        recorder.candidate(session.id, candidate("gentle reminder", 3_000), zero_s)
        clock.go_on(295)
        assert [moved.waits for moved in recorder.follow_plan()] == [True]
        recorder.lose_hearing("muted", zero_s + 301)
        assert (recorder.waiting, recorder.trouble is not None) == (4, True)
        recorder.write()
        assert recorder.waiting == 4
        assert not recorder.look_again()
        assert log.session(session.id).praise == 0
    recorder.write()
    assert (recorder.waiting, recorder.trouble, rescued(log)) == (0, None, False)
    assert patience_s(log) == PATIENCE_S
    written = log.session(session.id)
    assert written == recorder.session
    assert [mark.at_ms for mark in written.marks] == [1_000, 3_000]
    assert [span.began_ms for span in written.phases] == [0, 300_000]
    assert [event.offset_ms for event in log.events(session.id)] == [0, 0, 5_000, 4_400, 300_000, 300_000]


def test_whole_lessons_wait_for_a_log_that_is_locked(log: SessionLog, clock: HandClock) -> None:
    """Opened, marked, ended, and the next one begun; a step of the review is refused meanwhile."""
    recorder = recorder_on(log, clock)
    with locked(log):
        first = recorder.open(HAZEL, Source.CLOCK, None)
        recorder.command(PRAISE, recorder.zero_s, Source.KEY)
        clock.go_on(60)
        second = recorder.open(Opening("2-Birch"), Source.CLOCK, None)
        assert (recorder.waiting, recorder.trouble is not None) == (4, True)
        with pytest.raises(CompanionError):
            recorder.record(second.id, [ev.CarryOverWritten("Close the tap.")])
        assert recorder.waiting == 4
        assert log.summaries() == []
    recorder.write()
    assert log.session(first.id).closed_ms == 60_000
    assert log.session(first.id).praise == 1
    assert log.session(second.id) == recorder.session


def test_a_deaf_stretch_alone_waits_for_the_log_as_well(log: SessionLog, clock: HandClock) -> None:
    """And is written at the end of the program, if the log can be written then."""
    recorder = recorder_on(log, clock)
    assert patience_s(log) == PATIENCE_S
    assert not recorder.look_again()
    session = recorder.open(HAZEL, Source.CLOCK, None)
    with locked(log):
        recorder.lose_hearing("muted", recorder.zero_s + 1)
        assert recorder.waiting == 1
    assert recorder.end()
    assert len(log.session(session.id).unheard) == 1
    assert not rescued(log)
    clock.go_on(300)
    with locked(log):
        recorder.follow_plan()
        assert recorder.waiting == 1
    recorder.write()
    assert len(log.session(session.id).phases) == 2


def test_without_a_sign_of_life_the_newest_session_goes_on(log: SessionLog, clock: HandClock) -> None:
    """The gap begins with its last event."""
    recorder = recorder_on(log, clock)
    recorder.open(HAZEL, Source.CLOCK, None)
    clock.go_on(60)
    recorder.command(PRAISE, clock.steady_s(), Source.KEY)
    clock.go_on(60)
    session = Recorder(log, settings(), clock).go_on()
    assert session is not None
    assert [(gap.began_ms, gap.ended_ms) for gap in session.unheard] == [(60_000, 120_000)]


def test_what_waits_at_the_end_is_taken_up_at_the_next_start(log: SessionLog, clock: HandClock) -> None:
    """By the rescue file; where the disk does not even take that, the end says so."""
    recorder = recorder_on(log, clock)
    recorder.open(HAZEL, Source.CLOCK, None)
    assert recorder.end()
    with locked(log):
        recorder.command(PRAISE, recorder.zero_s, Source.KEY)
        assert recorder.end()
    session = recorder_on(log, clock).go_on()
    assert session is not None
    assert (session.praise, rescued(log)) == (1, False)
    again = recorder_on(log, clock)
    again.go_on()
    rescue = log.path.with_name("sessions-rescue.jsonl")
    (rescue / "in the way").mkdir(parents=True)
    with locked(log):
        again.command(PRAISE, again.zero_s + 10, Source.KEY)
        assert not again.end()


@moves_open_files
def test_a_log_that_is_gone_is_told_and_what_its_copy_lacks_is_written_when_it_is_there(
    log: SessionLog, clock: HandClock
) -> None:
    """Also of the lesson before, which is over, and also where an older copy was put in its place."""
    recorder = recorder_on(log, clock)
    first = recorder.open(HAZEL, Source.CLOCK, None)
    with open_log(log.path.with_name("copy.db")) as copy:
        for event in log.events(first.id):
            copy.append(first.id, event.body, at=event.at, offset_ms=event.offset_ms, request=event.id)
    clock.go_on(60)
    second = recorder.open(Opening("2-Birch"), Source.CLOCK, None)
    (log.path.parent / "away").mkdir()
    for file in log.path.parent.glob("sessions.db*"):
        file.rename(log.path.parent / "away" / file.name)
    recorder.write()
    trouble: object = recorder.trouble
    assert isinstance(trouble, LogMovedError)
    assert rescued(log)
    recorded = recorder.command(PRAISE, recorder.zero_s, Source.KEY)
    assert recorded is not None
    assert recorded.waits
    recorder.write()
    assert recorder.waiting == 1
    log.path.with_name("copy.db").rename(log.path)
    recorder.write()
    assert (recorder.trouble, recorder.waiting, rescued(log)) == (None, 0, False)
    assert log.session(first.id).closed
    assert (log.session(second.id).praise, log.session(second.id)) == (1, recorder.session)


@moves_open_files
def test_a_first_lesson_goes_on_in_the_log_that_was_put_in_the_place_of_its_own(
    log: SessionLog, clock: HandClock
) -> None:
    """There is none before it; all of it is written there."""
    recorder = recorder_on(log, clock)
    session = recorder.open(HAZEL, Source.CLOCK, None).id
    open_log(log.path.with_name("other.db")).close()
    for file in log.path.parent.glob("sessions.db*"):
        file.rename(file.with_name(f"away-{file.name}"))
    log.path.with_name("other.db").rename(log.path)
    recorder.write()
    assert (recorder.trouble, recorder.waiting) == (None, 0)
    assert log.session(session) == recorder.session


def test_a_lesson_opens_though_nobody_can_read_what_waits_for_its_class(
    log: SessionLog, clock: HandClock
) -> None:
    """Nothing is to be said then, and nothing is used up by it; the lesson itself waits for the log."""
    recorder = recorder_on(log, clock)
    with log.reading() as db:
        db.execute("DROP TABLE carry_over_answer")
    session = recorder.open(HAZEL, Source.CLOCK, None)
    assert (session.waiting, session.lists_waiting) == ((), True)


def test_a_lesson_that_another_program_ended_while_something_waited_is_let_go(
    log: SessionLog, clock: HandClock
) -> None:
    """What waited was before its end, and counts."""
    recorder = recorder_on(log, clock)
    session = recorder.open(HAZEL, Source.CLOCK, None)
    clock.go_on(60)
    with locked(log):
        recorder.command(PRAISE, recorder.zero_s + 1, Source.KEY)
    with open_log(log.path) as other:
        other.append(session.id, ev.SessionClosed(50_000, Source.PAGE), at=clock.wall(), offset_ms=50_000)
    recorder.write()
    assert recorder.session is None
    assert log.session(session.id).praise == 1


def test_a_lesson_that_is_ended_as_a_step_is_let_go(log: SessionLog, clock: HandClock) -> None:
    """And a step into a lesson that nobody goes on with begins none."""
    recorder = recorder_on(log, clock)
    session = recorder.open(HAZEL, Source.CLOCK, None)
    other = recorder_on(log, clock)
    other.record(session.id, [ev.TeacherViewed("Calm.")])
    assert other.session is None
    recorder.record(session.id, [ev.SessionClosed(0, Source.PAGE)])
    assert recorder.session is None


def test_the_last_sign_of_life_is_the_end_of_the_program(log: SessionLog, clock: HandClock) -> None:
    """The gap begins there."""
    recorder = recorder_on(log, clock)
    recorder.open(HAZEL, Source.CLOCK, None)
    clock.go_on(60)
    recorder.end()
    clock.go_on(30)
    session = recorder_on(log, clock).go_on()
    assert session is not None
    assert [(gap.began_ms, gap.ended_ms) for gap in session.unheard] == [(60_000, 90_000)]


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


def test_a_computer_that_stood_still_was_deaf_meanwhile(log: SessionLog, clock: HandClock) -> None:
    """What was the matter before is still the matter afterwards."""
    recorder = recorder_on(log, clock)
    recorder.stand_still(1.0, 2.0)
    recorder.open(HAZEL, Source.CLOCK, None)
    zero_s = recorder.zero_s
    recorder.stand_still(zero_s + 10, zero_s + 20)
    recorder.lose_hearing("muted", zero_s + 30)
    recorder.stand_still(zero_s + 40, zero_s + 50)
    recorder.regain_hearing(zero_s + 60)
    assert recorder.session is not None
    assert [(gap.began_ms, gap.ended_ms, gap.reason) for gap in recorder.session.unheard] == [
        (10_000, 20_000, STOOD_STILL),
        (30_000, 40_000, "muted"),
        (40_000, 50_000, STOOD_STILL),
        (50_000, 60_000, "muted"),
    ]


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


def test_nothing_goes_on_after_an_end(log: SessionLog, clock: HandClock) -> None:
    """Neither in a log without a lesson nor after one that was ended or settled."""
    recorder = recorder_on(log, clock)
    assert recorder.go_on() is None
    session = recorder.open(HAZEL, Source.CLOCK, None)
    clock.go_on(10)
    recorder.close(Source.KEY)
    assert recorder_on(log, clock).go_on() is None
    assert log.session(session.id).last_seq == 3


def test_a_session_goes_on_until_two_hours_without_a_sign_of_life(log: SessionLog, clock: HandClock) -> None:
    """It is closed with the last of them."""
    recorder = recorder_on(log, clock)
    session = recorder.open(HAZEL, Source.CLOCK, None)
    clock.go_on(100)
    recorder.beat()
    clock.go_on(CONTINUED_WITHIN.total_seconds())
    assert recorder_on(log, clock).go_on() is not None
    recorder = recorder_on(log, clock)
    clock.go_on(CONTINUED_WITHIN.total_seconds() + 1)
    assert recorder.go_on() is None
    assert log.session(session.id).closed_ms == 100_000 + CONTINUED_WITHIN // timedelta(milliseconds=1)


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
