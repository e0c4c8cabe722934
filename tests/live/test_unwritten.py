"""A log that can't be written, is gone or was replaced: nothing is lost, and what is shown is what is."""

import sqlite3
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from companion.background.status import status_of
from companion.errors import CompanionError
from companion.lesson.command import Action, Command
from companion.lesson.event import SessionOpened
from companion.lesson.fold import Telling
from companion.lesson.mark import NoteKind, Source
from companion.lesson.opening import Opening
from companion.lesson.session import Session
from companion.listening.voice.drift import VoiceNow
from companion.live.live import Live
from companion.live.pages_port import LivePort
from companion.live.state import Listening
from companion.log.plain_errors import LogError
from companion.log.store import SessionLog, open_log
from companion.pages.port import LogPort
from companion.recording.rescue import RescueFile
from companion.sounding.sounds import Tone
from tests.live.room import Room
from tests.school_day import settings
from tests.systems import moves_open_files, needs_posix
from tests.waiting import until

HAZEL, BIRCH = Opening("4-Hazel"), Opening("2-Birch")
PRAISE, UNDO, NEXT = Command(Action.PRAISE), Command(Action.UNDO), Command(Action.NEXT_PHASE)
OTHER_PROGRAM = """
import sqlite3, sys
db = sqlite3.connect(sys.argv[1])
marks = "SELECT count(*) FROM event WHERE kind = 'mark made' GROUP BY session ORDER BY max(rowid)"
for row in db.execute(marks):
    print(*row)
print(*db.execute("PRAGMA integrity_check").fetchone())
"""
WISH = "01ARZ3NDEKTSV4RRFFQ69G5FAV"


@pytest.fixture
def room(tmp_path: Path) -> Iterator[Room]:
    """Give a running companion."""
    room = Room(tmp_path)
    yield room
    room.live.stop()


@contextmanager
def locked(path: Path) -> Iterator[None]:
    """Hold the log as a program does that writes and writes."""
    db = sqlite3.connect(path, isolation_level=None)
    db.execute("BEGIN IMMEDIATE")
    try:
        yield
    finally:
        db.execute("ROLLBACK")
        db.close()


def in_log(path: Path) -> list[tuple[str, int, bool]]:
    """Return class group, praises and whether it is closed of each session in the log, oldest first."""
    with open_log(path) as log:
        return [(one.class_group, one.praise, one.closed) for one in reversed(log.summaries())]


def written(room: Room) -> bool:
    """Whether nothing waits, after another look."""
    room.live.tick().result()
    return room.live.state.waits is None


def listens(room: Room) -> bool:
    """Whether sound reaches the spotter, and is said to."""
    before = room.parrot.heard
    return room.live.state.listening is Listening.ON and until(lambda: room.parrot.heard > before)


def test_marks_of_every_source_wait_while_the_log_is_locked_and_keep_their_own_times(room: Room) -> None:
    """By key, voice and page; the count is visible, the tone is another, and all is written in order."""
    session = room.live.open(HAZEL, Source.COMMAND_LINE).result()
    room.hears_something()
    port = LivePort(room.live, lambda: None, LogPort(room.path, room.live.clock.wall))
    with locked(room.path):
        recorded = room.live.ask(PRAISE, Source.KEY, room.live.state.zero_s + 1).result()
        assert recorded is not None
        assert recorded.waits
        room.parrot.next = [room.parrot.says("gentle reminder", ago_ms=500)]
        assert until(lambda: room.live.state.unwritten == 2)
        with pytest.raises(CompanionError, match="wait in memory"):
            port.submit(session.id, PRAISE, request=WISH)
        assert "3 steps wait in memory" in port.status(session.id).troubles[0]
        assert in_log(room.path) == [("4-Hazel", 0, False)]
        assert {tone for tone, _ in room.told.tones} == {Tone.WAITING}
    assert written(room)
    with open_log(room.path) as log:
        marks = log.session(session.id).marks
    assert (marks[0].at_ms, marks[0].source) == (1_000, Source.KEY)
    assert {mark.source for mark in marks} == {Source.KEY, Source.VOICE, Source.PAGE}
    assert port.submit(session.id, PRAISE, request=WISH).praise == 2


def test_what_waits_is_taken_back_by_undo_and_moves_on(room: Room) -> None:
    """Each step is decided on what was asked for before it, be it written or not."""
    room.live.open(HAZEL, Source.COMMAND_LINE).result()
    with locked(room.path):
        for command in (PRAISE, PRAISE, UNDO, NEXT):
            room.live.ask(command, Source.KEY).result()
        assert room.live.state.session is not None
        assert room.live.state.session.praise == 1
    assert written(room)
    with open_log(room.path) as log:
        session = log.find()
    assert session == room.live.state.session
    assert session.phase is not None
    assert (session.praise, session.phase.name) == (1, "work time")


STEPS: dict[str, Callable[[Live], object]] = {
    "praise": lambda live: live.ask(PRAISE, Source.KEY).result(),
    "undo": lambda live: live.ask(UNDO, Source.KEY).result(),
    "next phase": lambda live: live.ask(NEXT, Source.KEY).result(),
    "note": lambda live: live.ask(Command(Action.NOTE, note=NoteKind.OTHER), Source.KEY).result(),
    "pause": lambda live: live.ask(Command(Action.PAUSE), Source.KEY).result(),
    "open": lambda live: live.open(BIRCH, Source.PAGE).result(),
    "open by key": lambda live: live.ask(Command(Action.OPEN), Source.KEY).result(),
    "close": lambda live: live.close(Source.PAGE).result(),
    "close by key": lambda live: live.ask(Command(Action.CLOSE), Source.KEY).result(),
    "name": lambda live: live.name("5-Oak", None, Source.PAGE).result(),
    "take back": lambda live: live.take_back(_id(live), Source.PAGE).result(),
    "no such plan": lambda live: live.open(Opening("2-Birch", plan="kiln"), Source.PAGE).result(),
}


def _id(live: Live) -> str:
    assert live.state.session is not None
    return live.state.session.id


@pytest.mark.parametrize("step", STEPS)
def test_after_any_step_that_fails_the_state_shown_is_the_state_that_is(room: Room, step: str) -> None:
    """The ear listens exactly where it is said to, and what waits is told and written afterwards."""
    room.live.open(HAZEL, Source.COMMAND_LINE).result()
    room.live.ask(PRAISE, Source.KEY).result()
    room.hears_something()
    with locked(room.path):
        try:
            STEPS[step](room.live)
        except CompanionError:
            told = True
        else:
            told = room.live.state.waits is not None or step == "open by key"
        assert told
        state = room.live.state
        if state.session is None:
            assert state.listening is Listening.OFF
            assert room.live.level_dbfs is None
        elif state.session.paused:
            assert state.listening is Listening.PAUSED
            assert room.live.level_dbfs is None
        else:
            assert listens(room)
    assert written(room)
    open_now = room.live.state.session
    with open_log(room.path) as log:
        newest: Session = log.find()
        assert (newest if not newest.closed else None) == open_now
    if open_now is not None and not open_now.paused:
        assert listens(room)


def test_a_whole_lesson_is_held_while_the_log_is_locked(room: Room) -> None:
    """It is opened, marked and closed in memory, and is in the log afterwards; the next one too."""
    room.live.open(HAZEL, Source.KEY).result()
    with locked(room.path):
        room.live.open(BIRCH, Source.KEY).result()
        room.live.ask(PRAISE, Source.KEY).result()
        room.live.close(Source.KEY).result()
        room.live.open(Opening("5-Oak"), Source.KEY).result()
        assert in_log(room.path) == [("4-Hazel", 0, False)]
    assert written(room)
    assert in_log(room.path) == [("4-Hazel", 0, True), ("2-Birch", 1, True), ("5-Oak", 0, False)]


def test_a_log_that_is_gone_is_told_and_taken_up_again_when_it_is_back(room: Room) -> None:
    """As on a stick that is pulled and plugged in again."""
    room.live.open(HAZEL, Source.KEY).result()
    room.live.ask(PRAISE, Source.KEY).result()
    away = room.path.with_name("away.db")
    _rename(room.path, away)
    room.live.tick().result()
    assert "is gone" in str(room.live.state.waits)
    recorded = room.live.ask(PRAISE, Source.KEY).result()
    assert recorded is not None
    assert recorded.waits
    assert RescueFile.beside(room.path).path.exists()
    _rename(away, room.path)
    assert written(room)
    assert in_log(room.path) == [("4-Hazel", 2, False)]
    assert not RescueFile.beside(room.path).path.exists()


def test_that_what_waits_could_not_be_saved_beside_the_log_is_said(room: Room) -> None:
    """As in a folder that may not be written: it is in memory only, and ends with the companion."""
    room.live.open(HAZEL, Source.KEY).result()
    in_the_way = RescueFile.beside(room.path).path
    in_the_way.mkdir()
    with locked(room.path):
        room.live.ask(PRAISE, Source.KEY).result()
        assert "let the companion run" in str(room.live.state.waits)
        in_the_way.rmdir()
        room.live.ask(PRAISE, Source.KEY).result()
        assert "let the companion run" not in str(room.live.state.waits)
    assert written(room)


def test_a_log_that_was_replaced_gets_the_lesson_that_goes_on(room: Room, tmp_path: Path) -> None:
    """As by a backup that is put in its place: nothing is written into a file that nobody will find."""
    room.live.open(HAZEL, Source.KEY).result()
    room.live.ask(PRAISE, Source.KEY).result()
    other = tmp_path / "other.db"
    with open_log(other) as log:
        log.open_session(SessionOpened("3-Elm", room.live.settings.plan()), room.live.clock.wall())
    for end in ("-wal", "-shm"):
        room.path.with_name(room.path.name + end).unlink()
    other.replace(room.path)
    recorded = room.live.ask(PRAISE, Source.KEY).result()
    assert recorded is not None
    assert recorded.waits
    assert written(room)
    assert sorted(in_log(room.path)) == [("3-Elm", 0, False), ("4-Hazel", 2, False)]


@moves_open_files
@pytest.mark.parametrize("ends", [("-wal",), ("-shm",), ("-wal", "-shm")])
def test_what_belongs_to_the_log_may_be_deleted_beneath_a_lesson(room: Room, ends: tuple[str, ...]) -> None:
    """As by whoever tidies up: all that was confirmed, also of lessons that are over, others find there."""
    for opening in (HAZEL, BIRCH, Opening("5-Oak")):
        room.live.open(opening, Source.KEY).result()
        room.live.ask(PRAISE, Source.KEY).result()
    for end in ends:
        room.path.with_name(room.path.name + end).unlink()
    room.live.tick().result()
    recorded = room.live.ask(PRAISE, Source.KEY).result()
    assert recorded is not None
    assert not recorded.waits
    other = [sys.executable, "-c", OTHER_PROGRAM, str(room.path)]
    assert subprocess.run(other, capture_output=True, check=True).stdout.split() == [b"1", b"1", b"2", b"ok"]


def test_a_log_that_is_emptied_beneath_a_lesson_takes_no_mark_along(room: Room, tmp_path: Path) -> None:
    """It is told, and all of the lesson is in the rescue file, from which the next log has it."""
    room.live.open(HAZEL, Source.KEY).result()
    room.live.ask(PRAISE, Source.KEY).result()
    room.path.write_bytes(b"")
    room.live.tick().result()
    assert "was emptied" in str(room.live.state.waits)
    RescueFile.beside(room.path).path.rename(RescueFile.beside(tmp_path / "next.db").path)
    with open_log(tmp_path / "next.db") as log:
        assert RescueFile.beside(log.path).take_up(log)
        assert log.find().praise == 1


@needs_posix
def test_an_older_copy_in_the_very_file_takes_no_lesson_along(room: Room, tmp_path: Path) -> None:
    """As by `cp old.db sessions.db`: told at once, kept in memory and beside, and written when it can be."""
    for opening in (HAZEL, BIRCH):
        room.live.open(opening, Source.KEY).result()
        room.live.ask(PRAISE, Source.KEY).result()
    old = tmp_path / "old.db"
    subprocess.run(["cp", str(room.path), str(old)], check=True)
    room.live.open(Opening("5-Oak"), Source.KEY).result()
    with closing(sqlite3.connect(room.path)) as db:
        db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    room.live.tick().result()
    subprocess.run(["cp", str(old), str(room.path)], check=True)
    recorded = room.live.ask(PRAISE, Source.KEY).result()
    assert recorded is not None
    assert recorded.waits
    assert "copied into the file" in str(room.live.state.waits)
    assert RescueFile.beside(room.path).path.exists()
    assert {tone for tone, _ in room.told.tones[-1:]} == {Tone.WAITING}
    assert until(lambda: written(room), limit_s=10)
    other = [sys.executable, "-c", OTHER_PROGRAM, str(room.path)]
    assert subprocess.run(other, capture_output=True, check=True).stdout.split() == [b"1", b"1", b"1", b"ok"]
    assert not RescueFile.beside(room.path).path.exists()


def _rename(old: Path, new: Path) -> None:
    for end in ("", "-wal", "-shm"):
        old.with_name(old.name + end).rename(new.with_name(new.name + end))


def test_steps_behind_a_slow_disk_are_counted_while_they_wait_and_lose_nothing(
    room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Told in status and on the page, and by a tone; a page is answered; all is written with its own time."""
    session = room.live.open(HAZEL, Source.COMMAND_LINE).result()
    port = LivePort(room.live, lambda: None, LogPort(room.path, room.live.clock.wall))
    monkeypatch.setattr("companion.live.pages_port.DURABLE_WITHIN_S", 0.2)
    flushed, write = threading.Event(), SessionLog.write

    def slowly(log: SessionLog, after: Telling, *, expected: int) -> None:
        flushed.wait()
        write(log, after, expected=expected)

    monkeypatch.setattr(SessionLog, "write", slowly)
    zero_s = room.live.state.zero_s
    pressed = [room.live.ask(PRAISE, Source.KEY, zero_s + second) for second in (1, 2)]
    with pytest.raises(CompanionError, match="takes its time"):
        port.submit(session.id, PRAISE, request=WISH)
    assert until(lambda: room.live.state.unwritten == 3)
    for told in (status_of(room.live, None, VoiceNow(""))["trouble"], *port.status(session.id).troubles):
        assert "The disk takes its time. 3 steps wait in memory" in told
    assert until(lambda: Tone.WAITING in [tone for tone, _ in room.told.tones])
    flushed.set()
    assert not any(recorded.waits for press in pressed if (recorded := press.result()))
    assert port.submit(session.id, PRAISE, request=WISH).praise == 3
    assert room.live.state.waits is None
    with open_log(room.path) as log:
        assert {1_000, 2_000} < {mark.at_ms for mark in log.session(session.id).marks}


def test_a_step_that_is_late_and_then_waits_for_the_log_sounds_once(
    room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    """First the disk is slow, then the log can't be written: the teacher hears of it one time.

    No other step is taken for told by that.
    """
    room.live.open(HAZEL, Source.COMMAND_LINE).result()
    refuses = threading.Event()

    def slowly(_: SessionLog, after: Telling, *, expected: int) -> None:  # noqa: ARG001 - as the log has it
        refuses.wait()
        raise LogError("The session log can’t be written.")

    monkeypatch.setattr(SessionLog, "write", slowly)
    pressed = room.live.ask(PRAISE, Source.KEY)
    assert until(lambda: Tone.WAITING in [tone for tone, _ in room.told.tones])
    refuses.set()
    for sounded in (1, 2):
        recorded = pressed.result()
        assert recorded is not None
        assert recorded.waits
        assert [tone for tone, _ in room.told.tones] == [Tone.WAITING] * sounded
        pressed = room.live.ask(PRAISE, Source.KEY)
    pressed.result()


def test_what_was_never_written_is_saved_at_the_end_and_taken_up_at_the_next_start(tmp_path: Path) -> None:
    """In a file beside the log, for the user only; the lesson goes on with it."""
    room = Room(tmp_path)
    room.live.open(HAZEL, Source.KEY).result()
    with locked(room.path):
        room.live.ask(PRAISE, Source.KEY).result()
        room.live.stop()
    rescue = RescueFile.beside(room.path).path
    assert rescue.stat().st_mode & 0o777 == 0o600
    again = Live(room.path, settings())
    session = again.start()
    assert session is not None
    assert session.praise == 1
    assert not rescue.exists()
    again.stop()
