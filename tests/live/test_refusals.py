"""What can't be done sounds the tone of refusal, whoever asked for it."""

from collections.abc import Callable, Iterator
from pathlib import Path
from threading import Event

import pytest

from companion.background.requests import Requests
from companion.errors import CompanionError
from companion.lesson.command import Action, Command
from companion.lesson.mark import Source
from companion.live.pages_port import LivePort
from companion.pages.port import LogPort
from companion.paths import Home
from companion.settings.settings import parse_settings
from companion.sounding.sounds import Tone
from tests.live.room import HAZEL, PRAISE, Room
from tests.school_day import SETTINGS
from tests.waiting import until

TAKE_BACK = """
[[phrases]]
say = "take it back"
does = "undo"
"""
NEXT = Command(Action.NEXT_PHASE)
UNDO = Command(Action.UNDO)
"""There is nothing to take back yet."""
WISH = "01JD0000000000000000000000"


@pytest.fixture
def lesson(tmp_path: Path) -> Iterator[Room]:
    """Give a companion with an open lesson in which nothing has happened yet."""
    room = Room(tmp_path, settings=parse_settings(SETTINGS + TAKE_BACK, "test.toml"))
    room.live.open(HAZEL, Source.COMMAND_LINE).result()
    yield room
    room.live.stop()


def by_voice(room: Room) -> None:
    """Say it."""
    room.hears_something()
    room.parrot.next = [room.parrot.says("take it back")]


def by_key(room: Room) -> None:
    """Press it."""
    room.live.ask(UNDO, Source.KEY).result()


def by_terminal(room: Room) -> None:
    """Type it."""
    asked_of(room).answer({"do": "command", "action": "undo"})


def by_page(room: Room) -> None:
    """Click it."""
    assert room.live.state.session is not None
    port = LivePort(room.live, lambda: None, LogPort(room.path, room.live.clock.wall))
    port.submit(room.live.state.session.id, UNDO, request=WISH)


def asked_of(room: Room) -> Requests:
    """Return what answers the terminal."""
    return Requests(room.live, None, None, Event(), Home(room.path.parent))  # type: ignore[arg-type]


@pytest.mark.parametrize("ask", [by_voice, by_key, by_terminal, by_page])
def test_a_refusal_sounds_whoever_asked(lesson: Room, ask: Callable[[Room], None]) -> None:
    """Once, and no mark is made."""
    ask(lesson)
    assert until(lambda: bool(lesson.told.tones))
    assert [tone for tone, _ in lesson.told.tones] == [Tone.REFUSAL]
    assert lesson.live.state.session is not None
    assert lesson.live.state.session.marks == ()


@pytest.mark.parametrize("command", [NEXT, Command(Action.PHASE, phase="kiln"), Command(Action.TELL)])
def test_what_the_lesson_cannot_do_sounds_the_refusal(lesson: Room, command: Command) -> None:
    """No phase after the last one, a phase that the plan lacks, nothing to tell."""
    assert lesson.live.state.session is not None
    last = lesson.live.state.session.plan.phases[-1].name
    lesson.live.ask(Command(Action.PHASE, phase=last), Source.KEY).result()
    lesson.told.tones.clear()
    lesson.live.ask(command, Source.KEY).result()
    assert [tone for tone, _ in lesson.told.tones] == [Tone.REFUSAL]


def test_without_a_lesson_every_command_is_refused_by_tone(tmp_path: Path) -> None:
    """Before the first one, and after its close."""
    room = Room(tmp_path)
    room.live.ask(PRAISE, Source.KEY).result()
    with pytest.raises(CompanionError, match="No session is open"):
        asked_of(room).answer({"do": "command", "action": "praise"})
    room.live.open(HAZEL, Source.COMMAND_LINE).result()
    room.live.close(Source.KEY).result()
    room.live.ask(PRAISE, Source.KEY).result()
    room.live.stop()
    assert [tone for tone, _ in room.told.tones] == [Tone.REFUSAL] * 3
