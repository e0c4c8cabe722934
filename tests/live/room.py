"""A running companion with scripted microphone and spotter."""

from collections.abc import Callable
from pathlib import Path

from companion.lesson.command import Action, Command
from companion.lesson.opening import Opening
from companion.listening.candidate import Candidate
from companion.listening.microphone.capture import Microphone
from companion.listening.microphone.trouble import Trouble
from companion.listening.sound import Sound
from companion.live.heard_sounds import HeardSounds
from companion.live.lesson_ear import EarParts
from companion.live.live import Live
from companion.live.reviewed_takes import ReviewedTakes
from companion.live.state import LiveState
from companion.log.store import open_log
from companion.settings.settings import Settings
from companion.sounding.sounds import Tone
from tests import school_day
from tests.listening.device import Scripted
from tests.school_day import HandClock
from tests.waiting import until

PRAISE = Command(Action.PRAISE)
HAZEL = Opening("4-Hazel")


class Told:
    """Tones that are noted in place of being played, with what the log held at that moment."""

    def __init__(self, path: Path) -> None:
        """Look into the log at `path`."""
        self.tones: list[tuple[Tone, int]] = []
        self._path = path

    def play(self, tone: Tone) -> None:
        """Note `tone` and how many events another reader finds in the log."""
        with open_log(self._path) as log:
            self.tones.append((tone, len(log.events(log.summaries()[0].session)) if log.summaries() else 0))

    def wake(self) -> None:
        """Do nothing."""

    def close(self) -> None:
        """Do nothing."""


class Parrot:
    """A spotter that finds what it was told to find."""

    name = "parrot"

    def __init__(self) -> None:
        """Wait for things to find."""
        self.next: list[Candidate] = []
        self.last: list[Candidate] = []
        self.heard = 0

    def hear(self, block: Sound) -> list[Candidate]:
        """Return what was put into `next`."""
        self.heard += len(block)
        found, self.next = self.next, []
        return found

    def finish(self) -> list[Candidate]:
        """Return what was put into `last`."""
        return self.last

    def says(self, phrase: str, *, ago_ms: int = 1500, fired: bool = True) -> Candidate:
        """Return a candidate that began `ago_ms` before the newest sound."""
        now_ms = self.heard // 16
        return Candidate(phrase, max(0, now_ms - ago_ms), now_ms - 400, now_ms, 0.9, fired, self.name)


class Room:
    """A running companion with scripted microphone and spotter."""

    def __init__(
        self,
        folder: Path,
        *,
        timetable: bool = False,
        settings: Settings | None = None,
        clock: HandClock | None = None,
        reviewed_takes: ReviewedTakes | None = None,
    ) -> None:
        """Start it."""
        self.devices: list[Scripted] = []
        self.parrot = Parrot()
        self.path = folder / "sessions.db"
        self.told = Told(self.path)
        self.microphones: list[Microphone] = []
        self.live = Live(
            self.path,
            settings or school_day.settings(timetable=timetable),
            ear=EarParts(lambda *_: self.parrot, self._open),
            sounds=HeardSounds(reviewed_takes=reviewed_takes),
            tones=self.told,  # type: ignore[arg-type]
            clock=clock,
        )
        self.states: list[LiveState] = []
        self.live.subscribe(self.states.append)
        self.live.start()

    def _open(self, name: str | None, told: Callable[[Trouble | None, float], None]) -> Microphone:
        self.devices.append(Scripted())
        self.microphones.append(Microphone(name, told, open_stream=lambda _: self.devices[-1]))
        return self.microphones[-1]

    def hears_something(self) -> None:
        """Wait until sound reaches the spotter."""
        before = self.parrot.heard
        assert until(lambda: self.parrot.heard > before + 16_000)
