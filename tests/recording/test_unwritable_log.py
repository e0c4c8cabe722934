"""What happens in a lesson while its log is locked, gone or can't be read."""

import pytest

from companion.errors import CompanionError
from companion.lesson import event as ev
from companion.lesson.mark import Source
from companion.lesson.opening import Opening
from companion.log.read_only import reading_only
from companion.log.store import SessionLog, open_log
from companion.log.whereabouts import LogMovedError
from companion.recording.recorder import PATIENCE_S, SHORT_PATIENCE_S
from tests.recording.recorders import HAZEL, PRAISE, candidate, locked, patience_s, recorder_on, rescued
from tests.school_day import HandClock
from tests.systems import moves_open_files


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
def test_what_happens_while_a_file_beside_the_log_is_gone_waits_for_it(
    log: SessionLog, clock: HandClock
) -> None:
    """It is told, and written as soon as the log was opened anew, with what stood in that file only."""
    recorder = recorder_on(log, clock)
    recorder.open(HAZEL, Source.CLOCK, None)
    log.path.with_name("sessions.db-wal").unlink()
    recorded = recorder.command(PRAISE, recorder.zero_s, Source.KEY)
    assert recorded is not None
    assert recorded.waits
    assert "taken away" in str(recorder.trouble)
    recorder.write()
    assert (recorder.trouble, recorder.waiting) == (None, 0)
    with reading_only(log.path) as other:
        assert other.find().praise == 1


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
