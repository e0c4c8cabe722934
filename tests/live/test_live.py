"""The lesson that is going on, with everything joined: sources in, one writer, tones and viewers out."""

import threading
from pathlib import Path

import pytest

from companion.errors import CompanionError
from companion.lesson.command import Action, Command
from companion.lesson.mark import Source
from companion.lesson.opening import Opening
from companion.live.live import Live
from companion.live.state import LiveState
from companion.log.store import open_log
from companion.sounding.sounds import Tone
from tests.live.room import HAZEL, PRAISE, Room
from tests.school_day import settings
from tests.waiting import until


def test_a_key_and_a_phrase_become_marks_and_each_is_durable_before_its_tone(room: Room) -> None:
    """Another reader of the log finds the mark at the moment when the tone plays."""
    room.live.open(HAZEL, Source.COMMAND_LINE).result()
    room.live.ask(PRAISE, Source.KEY).result()
    room.hears_something()
    room.parrot.next = [room.parrot.says("gentle reminder", ago_ms=1200)]
    assert until(lambda: room.live.state.session is not None and room.live.state.session.reminder == 1)
    assert until(lambda: len(room.told.tones) == 2)
    assert room.told.tones == [(Tone.PRAISE, 3), (Tone.REMINDER, 4)]
    assert [state.session.praise for state in room.states if state.session][-1] == 1


def test_a_key_opens_an_unplanned_session_once_and_closes_it(room: Room) -> None:
    """Without a timetable a key opens a session without a class; again it asks, and opens nothing over it."""
    opening, closing = Command(Action.OPEN), Command(Action.CLOSE)
    for command in (opening, opening, closing, closing):
        room.live.ask(command, Source.KEY).result()
    with open_log(room.path) as log:
        assert [(summary.class_group, summary.closed) for summary in log.summaries()] == [("unplanned", True)]
    assert [tone for tone, _ in room.told.tones] == [Tone.NOTE, Tone.QUESTION, Tone.NOTE, Tone.REFUSAL]


def test_commands_that_can_do_nothing_are_refused_by_tone(room: Room) -> None:
    """No session, nothing to take back: a refusal; a doubled mark: no second tone."""
    room.live.ask(PRAISE, Source.KEY).result()
    room.live.open(HAZEL, Source.COMMAND_LINE).result()
    room.live.ask(Command(Action.UNDO), Source.KEY).result()
    room.live.ask(PRAISE, Source.KEY).result()
    room.live.ask(Command(Action.UNDO), Source.KEY).result()
    assert [tone for tone, _ in room.told.tones] == [Tone.REFUSAL, Tone.REFUSAL, Tone.PRAISE, Tone.UNDO]


def test_a_viewer_that_fails_takes_nobody_with_it(room: Room) -> None:
    """Marks go on, and the other viewers see them."""

    def fail(_: LiveState) -> None:
        msg = "a page that went away"
        raise RuntimeError(msg)

    leave = room.live.subscribe(fail)
    room.live.open(HAZEL, Source.COMMAND_LINE).result()
    room.live.ask(PRAISE, Source.PAGE).result()
    leave()
    assert room.states[-1].session is not None
    assert room.states[-1].session.praise == 1


def test_marks_from_many_sources_at_once_are_all_there_once(room: Room) -> None:
    """Two hundred presses from eight threads are two hundred marks with gapless numbers."""
    session = room.live.open(HAZEL, Source.COMMAND_LINE).result().id

    def press() -> None:
        for _ in range(25):
            room.live.ask(PRAISE, Source.PAGE).result()

    threads = [threading.Thread(target=press) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert room.live.state.session is not None
    assert room.live.state.session.praise == 200
    with open_log(room.path) as log:
        numbers = [event.seq for event in log.events(session)]
    assert numbers == list(range(1, len(numbers) + 1))


def test_a_plan_that_is_not_there_closes_nothing(room: Room) -> None:
    """The lesson that is open goes on and is listened to."""
    session = room.live.open(HAZEL, Source.COMMAND_LINE).result().id
    with pytest.raises(CompanionError, match="no plan 'cooking'"):
        room.live.open(Opening("2-Birch", "cooking"), Source.COMMAND_LINE).result()
    assert room.live.state.session is not None
    assert room.live.state.session.id == session
    room.hears_something()


def test_a_restart_goes_on_with_the_session_and_listens_again(tmp_path: Path) -> None:
    """Stopped in mid-lesson and started anew, the companion has session, count and microphone back."""
    first = Room(tmp_path)
    session = first.live.open(HAZEL, Source.COMMAND_LINE).result().id
    first.live.ask(PRAISE, Source.KEY).result()
    first.live.stop()
    second = Room(tmp_path)
    assert second.live.state.session is not None
    assert second.live.state.session.id == session
    assert second.live.state.session.praise == 1
    second.hears_something()
    second.live.stop()


def test_a_log_that_is_no_log_is_refused_at_the_start(tmp_path: Path) -> None:
    """The companion does not start, and says which file is wrong."""
    (tmp_path / "sessions.db").write_bytes(b"no database at all" * 100)
    live = Live(tmp_path / "sessions.db", settings())
    with pytest.raises(CompanionError, match=r"sessions\.db"):
        live.start()
