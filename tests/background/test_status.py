"""How the running companion is, in twelve lines."""

from datetime import timedelta
from pathlib import Path

from companion.background.status import status_of
from companion.errors import CompanionError
from companion.lesson.command import Action, Command
from companion.lesson.mark import Source
from companion.lesson.opening import Opening
from companion.listening.microphone.capture import Microphone
from companion.listening.voice.drift import VoiceNow
from companion.live.lesson_ear import EarParts
from companion.live.live import Live
from companion.live.pages_port import LivePort
from companion.pages.port import LogPort
from companion.pressing.hotkeys import NO_SCREEN
from companion.settings.settings import parse_settings
from tests.listening.device import Scripted
from tests.live.room import Parrot
from tests.school_day import SETTINGS, HandClock, settings
from tests.waiting import until

VOICE = VoiceNow("learnt", "rehearse")


def test_before_and_in_a_lesson(tmp_path: Path) -> None:
    """What comes, what is open, phase and count, the last mark, and what waits: no lesson without a mark."""
    clock = HandClock()
    clock.jump(timedelta(minutes=-10))
    live = Live(tmp_path / "sessions.db", settings(timetable=True), clock=clock)
    live.start()
    lines = status_of(live, NO_SCREEN, VOICE)
    assert len(lines) == 12
    assert (lines["session"], lines["coming"]) == ("none is open", "4-Hazel, Mon 08:00")
    assert lines["trouble"] == NO_SCREEN.remedy
    for group, praised in (("1-Ash", True), ("2-Birch", False)):
        live.open(Opening(group), Source.KEY).result()
        if praised:
            live.ask(Command(Action.PRAISE), Source.KEY).result()
        live.close(Source.KEY).result()
    live.open(Opening("3-Elm"), Source.KEY).result()
    live.ask(Command(Action.PRAISE), Source.KEY).result()
    clock.go_on(6 * 60)
    live.tick().result()
    lines = status_of(live, None, VOICE)
    assert lines["session"] == "3-Elm, since 07:50, plan 'garden'"
    assert (lines["phase"], lines["count"]) == ("work time, 29 min left", "1 praise, 0 reminders, margin +1")
    assert (lines["last mark"], lines["trouble"]) == ("praise by key, 0:00", "none")
    assert "1 session waits for its review (1-Ash)" in lines["to review"]
    assert lines["promises"] == "none is overdue"
    assert lines["voice"] == "learnt rehearse"
    live.stop()


def test_the_engine_is_the_one_that_listens(tmp_path: Path) -> None:
    """With the teacher's voice learnt it is another than without; where none is ready, that is said."""
    asked: list[str] = []

    def choose(_: object, plan: object) -> str:
        asked.append(str(plan))
        if len(asked) > 1:
            raise CompanionError("Nothing understands this language.")
        return "enrolled"

    live = Live(tmp_path / "sessions.db", settings(), ear=EarParts(None, choose_engine=choose))
    live.start()
    assert status_of(live, None, VOICE)["engine"] == "enrolled, chosen by itself"
    assert status_of(live, None, VOICE)["engine"] == "Nothing understands this language."
    live.stop()


def test_sound_that_is_kept_is_said_while_it_is(tmp_path: Path) -> None:
    """In the status and on the page, with the last day."""
    kept = parse_settings("[listening]\nkeep_clips_until = 2126-12-01\n" + SETTINGS, "test.toml")
    live = Live(
        tmp_path / "sessions.db",
        kept,
        ear=EarParts(
            lambda *_: Parrot(), lambda name, told: Microphone(name, told, open_stream=lambda _: Scripted())
        ),
    )
    live.start()
    session = live.open(Opening("4-Hazel"), Source.KEY).result()
    assert until(lambda: "kept until 1 December 2126" in status_of(live, None, VOICE)["microphone"])
    port = LivePort(live, lambda: None, LogPort(tmp_path / "sessions.db", live.clock.wall))
    assert "until 1 December 2126" in port.status(session.id).microphone
    live.stop()
    assert not (tmp_path / "clips").exists()
