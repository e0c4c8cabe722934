"""The one writer of a session."""

import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from ulid import ULID

from companion.errors import CompanionError
from companion.lesson import event as ev
from companion.lesson.command import Action, Command
from companion.lesson.fold import Telling, fold, tell
from companion.lesson.mark import Kind, Source
from companion.listening.candidate import Candidate
from companion.log.forget import SESSIONS, take_out, whole_sessions
from companion.log.plain_errors import LogError
from companion.log.store import SessionLog, open_log
from companion.recording.writer import SessionWriter
from tests.lesson.builders import OPENED

PRAISE, UNDO, NEXT = Command(Action.PRAISE), Command(Action.UNDO), Command(Action.NEXT_PHASE)


def now() -> datetime:
    """Return one moment of a lesson."""
    return datetime(2026, 9, 14, 9, 10, tzinfo=UTC)


def test_what_was_recorded_says_what_it_made(log: SessionLog) -> None:
    """A mark, a note and a near miss are named once, by the event that made them."""
    writer = SessionWriter.open(log, OPENED, now)
    noted = writer.command(Command(Action.NOTE), at_ms=1_000, source=Source.KEY)
    marked = writer.command(PRAISE, at_ms=2_000, source=Source.KEY)
    undone = writer.command(UNDO, at_ms=3_000, source=Source.KEY)
    made = [event.made for recorded in (noted, marked, undone) for event in recorded.events]
    assert made == [writer.session.notes[0].id, writer.session.marks[0].id, None]


def test_a_command_is_decided_on_what_another_program_has_written(log: SessionLog) -> None:
    """Another program moved the lesson on and marked: `next` goes on from there, and nothing is doubled."""
    writer = SessionWriter.open(log, OPENED, now)
    with open_log(log.path) as other:
        theirs = SessionWriter(other, other.telling(writer.session.id), now)
        theirs.command(NEXT, at_ms=1_000, source=Source.PAGE)
        theirs.command(PRAISE, at_ms=2_000, source=Source.PAGE)
    moved = writer.command(NEXT, at_ms=60_000, source=Source.PAGE)
    assert [span.name for span in moved.session.phases] == ["arrival", "work time", "cleanup"]
    assert [event.body for event in moved.events] == [ev.PhaseBegan("cleanup", 60_000, Source.PAGE)]
    assert writer.session == fold(log.events(writer.session.id))


def test_a_step_is_not_decided_anew_on_what_it_would_do_itself(log: SessionLog) -> None:
    """Another program has marked meanwhile; the pause is recorded after that."""
    writer = SessionWriter.open(log, OPENED, now)
    log.append(writer.session.id, ev.MarkAdded(Kind.PRAISE, "arrival"), at=now(), offset_ms=500)
    paused = writer.command(Command(Action.PAUSE), at_ms=1_000, source=Source.KEY)
    assert (paused.session.paused, paused.session.praise) == (True, 1)
    assert log.session(writer.session.id) == paused.session


def test_a_request_that_comes_again_is_recorded_once(log: SessionLog) -> None:
    """Also where another program has recorded something meanwhile."""
    writer = SessionWriter.open(log, OPENED, now)
    wish = str(ULID())
    for _ in range(2):
        assert not writer.command(PRAISE, at_ms=1_000, source=Source.PAGE, request=wish).waits
    with open_log(log.path) as other:
        other.append(writer.session.id, ev.MarkAdded(Kind.PRAISE, "arrival"), at=now(), offset_ms=1_500)
    again = writer.command(PRAISE, at_ms=9_000, source=Source.PAGE, request=wish)
    assert (len(again.events), again.again, again.waits) == (1, True, False)
    assert again.session.praise == 2


def test_a_write_that_fails_leaves_the_writer_where_the_log_is(log: SessionLog) -> None:
    """What could not be written is not in the session either, and the next write goes on."""
    writer = SessionWriter.open(log, OPENED, now)
    with closing(sqlite3.connect(log.path)) as db, db:
        db.execute("CREATE TRIGGER full BEFORE INSERT ON event BEGIN SELECT RAISE(FAIL, 'disk full'); END")
    with pytest.raises(CompanionError):
        writer.command(PRAISE, at_ms=1_000, source=Source.KEY)
    assert writer.session.praise == 0
    with closing(sqlite3.connect(log.path)) as db, db:
        db.execute("DROP TRIGGER full")
    assert writer.command(PRAISE, at_ms=2_000, source=Source.KEY).session.praise == 1
    assert writer.session == fold(log.events(writer.session.id))


def test_a_session_that_was_taken_out_of_the_log_takes_nothing_more(log: SessionLog) -> None:
    """Nothing of it waits, or is shown as if it were recorded."""
    writer = SessionWriter.open(log, OPENED, now)
    with open_log(log.path) as other:
        take_out(other, whole_sessions([writer.session.id]), SESSIONS, now())
    with pytest.raises(CompanionError, match="no session"):
        writer.command(PRAISE, at_ms=1_000, source=Source.KEY, may_wait=True)
    assert (writer.waiting, writer.session.praise) == (0, 0)
    with pytest.raises(CompanionError, match="no session"):
        writer.look_again()
    assert writer.waiting == 0


def test_a_step_that_the_log_has_though_it_said_otherwise_is_recorded(
    log: SessionLog, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It failed after the writing: the mark is told as what it is, durable, and is not made twice."""
    writer = SessionWriter.open(log, OPENED, now)
    written = log.write

    def write_and_fail(telling: Telling, *, expected: int) -> None:
        written(telling, expected=expected)
        raise LogError("The disk does not answer.")

    monkeypatch.setattr(log, "write", write_and_fail)
    recorded = writer.command(PRAISE, at_ms=1_000, source=Source.KEY)
    assert (len(recorded.events), recorded.waits, writer.waiting) == (1, False, 0)
    waits = writer.command(PRAISE, at_ms=9_000, source=Source.KEY, may_wait=True)
    assert (waits.waits, writer.waiting) == (True, 1)
    monkeypatch.undo()
    missed = Candidate("praise", 1_000, 2_000, 4_500, 0.4, fired=False, engine="test")
    writer.candidate(missed, {"praise": PRAISE}, offset_ms=9_000)
    assert (writer.waiting, writer.session.praise, len(writer.session.near_misses)) == (0, 2, 1)
    assert log.session(writer.session.id) == writer.session


def test_what_the_lesson_can_not_do_is_said_to_be_in_vain(log: SessionLog) -> None:
    """A last phase has none after it, by key and by voice; what is as it was asked to be is not in vain."""
    writer = SessionWriter.open(log, OPENED, now, begins_in=OPENED.plan.phases[-1].name)
    assert writer.command(NEXT, at_ms=60_000, source=Source.KEY).in_vain
    assert not writer.command(Command(Action.RESUME), at_ms=61_000, source=Source.KEY).in_vain
    assert not writer.command(PRAISE, at_ms=62_000, source=Source.KEY).in_vain
    said = Candidate("next", 70_000, 71_000, 72_000, 0.9, fired=True, engine="test")
    assert writer.candidate(said, {"next": NEXT}).in_vain
    assert not writer.candidate(replace(said, phrase="praise"), {"praise": PRAISE}).in_vain


def test_what_is_refused_after_another_program_has_written_says_so(log: SessionLog) -> None:
    """The lesson was settled there meanwhile: the change is not recorded, does not wait, and is told."""
    writer = SessionWriter.open(log, OPENED, now)
    writer.close(at_ms=1_000, source=Source.KEY)
    log.append(writer.session.id, ev.SessionSettled(), at=now(), offset_ms=2_000)
    with pytest.raises(CompanionError):
        writer.append(ev.CarryOverWritten("Close the tap."), now_ms=3_000)
    assert (writer.waiting, writer.session) == (0, log.session(writer.session.id))


def test_where_there_is_nothing_to_do_nothing_is_recorded(log: SessionLog) -> None:
    """And nothing waits; the session is told all the same."""
    writer = SessionWriter.open(log, OPENED, now)
    writer.command(Command(Action.PAUSE), at_ms=1_000, source=Source.KEY)
    recorded = writer.command(Command(Action.PAUSE), at_ms=2_000, source=Source.KEY)
    assert (recorded.events, recorded.session, writer.waiting) == ((), writer.session, 0)


@pytest.mark.parametrize(("had", "waiting"), [(0, 3), (1, 3), (2, 2), (3, 1)])
def test_an_older_copy_of_the_session_gets_what_it_lacks(log: SessionLog, had: int, waiting: int) -> None:
    """As does a log that does not have the session at all."""
    writer = SessionWriter.open(log, OPENED, now)
    for at_ms in (1_000, 9_000):
        writer.command(PRAISE, at_ms=at_ms, source=Source.KEY)
    session, events = writer.session.id, writer.events
    assert not writer.look_again()
    with open_log(log.path) as other:
        take_out(other, whole_sessions([session]), SESSIONS, now())
        if had:
            other.write(tell(events[:had]), expected=0)
    if had:
        assert writer.look_again()
    else:
        writer.move()
    assert writer.waiting == waiting
    writer.write()
    assert [event.body for event in log.events(session)] == [event.body for event in events]
    assert log.session(session) == writer.session


def test_what_waited_and_is_done_by_another_program_meanwhile_waits_no_more(log: SessionLog) -> None:
    """The lesson was ended twice: the end that was written first is its end."""
    writer = SessionWriter.open(log, OPENED, now)
    log.wait_for_others(0.01)
    with closing(sqlite3.connect(log.path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        assert writer.close(at_ms=60_000, source=Source.KEY, may_wait=True).closed
        other.execute("ROLLBACK")
    other.close()
    log.append(writer.session.id, ev.SessionClosed(50_000, Source.PAGE), at=now(), offset_ms=50_000)
    assert writer.waiting == 1
    writer.write()
    assert (writer.waiting, writer.session.closed_ms) == (0, 50_000)
    assert writer.session == log.session(writer.session.id)


def test_an_append_asks_as_much_of_the_log_at_the_hundredth_event_as_at_the_tenth(log: SessionLog) -> None:
    """No statement more, and no event is read again."""
    writer = SessionWriter.open(log, OPENED, now)
    asked: list[str] = []
    log._db.conn.set_trace_callback(asked.append)
    numbers = []
    for number in range(100):
        writer.command(PRAISE, at_ms=number * 3_000, source=Source.KEY)
        numbers.append(len(asked))
        asked.clear()
    log._db.conn.set_trace_callback(None)
    assert numbers[9] == numbers[99]


def test_a_lesson_ends_once(log: SessionLog) -> None:
    """The second of two windows that end it finds it ended, and changes nothing."""
    writer = SessionWriter.open(log, OPENED, now)
    other = SessionWriter(log, log.telling(writer.session.id), now)
    writer.close(at_ms=50_000, source=Source.KEY)
    assert other.close(at_ms=70_000, source=Source.PAGE).closed_ms == 50_000
    assert log.session(writer.session.id).last_seq == writer.session.last_seq


def test_a_cue_alone_is_recorded_as_a_near_miss_of_no_command(log: SessionLog) -> None:
    """At the moment when it was decided; the review asks what it was."""
    writer = SessionWriter.open(log, OPENED, now)
    alone = Candidate("", 1_000, 2_000, 4_500, 0.8, fired=False, engine="test")
    (event,) = writer.candidate(alone, {"praise": PRAISE}, offset_ms=60_000).events
    assert event.body == ev.NearMissHeard("", 61_000, 0.8, None, "test")
    assert event.offset_ms == 64_500
    assert log.session(writer.session.id).near_misses[0].cue_alone


def test_a_near_miss_is_recorded_when_it_was_decided(log: SessionLog) -> None:
    """It stands where its phrase began, and the log says when that was known."""
    writer = SessionWriter.open(log, OPENED, now)
    missed = Candidate("praise", 1_000, 2_000, 4_500, 0.4, fired=False, engine="test")
    (event,) = writer.candidate(missed, {"praise": PRAISE}, offset_ms=60_000).events
    assert event.body == ev.NearMissHeard("praise", 61_000, 0.4, PRAISE, "test")
    assert event.offset_ms == 64_500
