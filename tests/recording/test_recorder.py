"""The session that is going on."""

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from companion.errors import CompanionError
from companion.lesson import event as ev
from companion.lesson.command import Action, Command
from companion.lesson.mark import Source
from companion.lesson.opening import Opening
from companion.listening.candidate import Candidate
from companion.log.store import SessionLog, open_log
from companion.recording.heartbeat import Heartbeat
from companion.recording.recorder import CONTINUED_WITHIN, Recorder
from tests.school_day import HandClock, settings

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
