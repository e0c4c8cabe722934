"""The sessions of this run, should the log's file come to lack them."""

from pathlib import Path

from companion.lesson import event as ev
from companion.lesson.mark import NoteKind, Source
from companion.log.forget import CHILD, SESSIONS, one_child, take_out, whole_sessions
from companion.log.store import SessionLog, open_log
from companion.recording.remembered import MOST, Remembered
from companion.recording.writer import SessionWriter
from tests.lesson.builders import OPENED, praise
from tests.recording.recorders import HAZEL, PRAISE, recorder_on
from tests.school_day import HandClock


def writer_on(log: SessionLog, clock: HandClock) -> SessionWriter:
    """Return the writer of a new session."""
    return SessionWriter.open(log, OPENED, clock.wall)


def test_the_newest_sessions_are_remembered_each_once(log: SessionLog, clock: HandClock) -> None:
    """However long the companion runs."""
    remembered = Remembered(log)
    writers = [writer_on(log, clock) for _ in range(MOST + 1)]
    for writer in (*writers, writers[1]):
        remembered.add(writer)
    assert remembered.writers == [*writers[2:], writers[1]]


def test_what_another_program_wrote_is_remembered_too(log: SessionLog, clock: HandClock) -> None:
    """As a review by the command line."""
    remembered = Remembered(log)
    writer = writer_on(log, clock)
    remembered.add(writer)
    assert not remembered.look_again()
    with open_log(log.path) as other:
        other.append(writer.session.id, praise(1), at=clock.wall(), offset_ms=1)
    assert not remembered.look_again()
    assert writer.session.praise == 1


def test_what_was_forgotten_in_the_log_is_forgotten_here(log: SessionLog, clock: HandClock) -> None:
    """A child's initials, and a session as a whole: else a log that is replaced would have them again."""
    remembered = Remembered(log)
    noted, gone = writer_on(log, clock), writer_on(log, clock)
    noted.append(ev.NoteOpened(NoteKind.OTHER, 1, Source.KEY), now_ms=1)
    noted.append(ev.NoteCompleted("n3", "K. T.", NoteKind.OTHER), now_ms=2)
    for writer in (noted, gone):
        remembered.add(writer)
    with open_log(log.path) as other:
        take_out(other, one_child("K. T."), CHILD, clock.wall())
        take_out(other, whole_sessions([gone.session.id]), SESSIONS, clock.wall())
    assert remembered.look_again()
    assert remembered.writers == [noted]
    assert "K. T." not in repr(noted.events)


def test_lessons_that_are_over_are_written_into_a_log_that_lacks_them(
    log: SessionLog, clock: HandClock, tmp_path: Path
) -> None:
    """All that this run has confirmed is in the file that lies in the log's place now."""
    recorder = recorder_on(log, clock)
    for _ in range(3):
        recorder.open(HAZEL, Source.KEY, None)
        recorder.command(PRAISE, clock.steady_s(), Source.KEY)
        recorder.close(Source.KEY)
    for file in tmp_path.glob("sessions.db*"):
        file.unlink()
    open_log(log.path).close()
    recorder.write()
    with open_log(log.path) as other:
        assert [one.praise for one in other.summaries()] == [1, 1, 1]
