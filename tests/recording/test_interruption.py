"""A lesson that goes on, or does not, after the program, the computer or the clock has stopped."""

from datetime import timedelta

from companion.lesson.command import Action, Command
from companion.lesson.mark import Source
from companion.lesson.opening import Opening
from companion.lesson.span import STOOD_STILL
from companion.log.store import SessionLog
from companion.recording.recorder import CONTINUED_WITHIN, Recorder
from tests.recording.recorders import HAZEL, PRAISE, recorder_on
from tests.school_day import HandClock, settings


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


def test_the_session_that_is_open_goes_on_without_a_sign_of_life_whatever_the_clock_says(
    log: SessionLog, clock: HandClock
) -> None:
    """The disk may not have taken the sign; a lesson of "tomorrow" does not keep the other open."""
    recorder = recorder_on(log, clock)
    clock.jump(timedelta(days=1))
    recorder.open(HAZEL, Source.CLOCK, None)
    clock.jump(timedelta(days=-1))
    opened = recorder.open(Opening("2-Birch"), Source.CLOCK, None)
    session = Recorder(log, settings(), clock).go_on()
    assert session is not None
    assert session.id == opened.id


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
