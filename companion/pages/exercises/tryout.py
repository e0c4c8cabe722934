"""Phrases said and keys pressed before any lesson, so that they are seen to be heard; nothing is recorded."""

import threading
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np

from companion.errors import CompanionError
from companion.lesson.command import Command
from companion.listening.engines import Voice, hearable, open_spotter
from companion.listening.microphone.capture import Block
from companion.listening.sound import Sound
from companion.listening.spotter_process import ProcessSpotter
from companion.pages.exercises.listening_line import ListeningLine
from companion.pressing.bindings import written
from companion.pressing.gesture import Gesture
from companion.pressing.hotkeys import Hotkeys
from companion.settings.settings import Settings

PHRASES, KEYS = 3, 2
"""So many of each are to be seen."""
NOTHING: Sound = np.zeros(0, np.int16)


@dataclass(frozen=True, slots=True)
class SeenToBeHeard:
    """Something that was heard or pressed."""

    heard: bool
    what: str
    command: Command
    sure: int
    """How sure it was, in percent; 100 for a key."""


class Tryout:
    """Listens for the phrases and keys of the settings."""

    step = "try"

    def __init__(self, settings: Settings, voice: Voice) -> None:
        """Begin. Raises CompanionError where nothing can hear the phrases."""
        self.tried: tuple[SeenToBeHeard, ...] = ()
        self.nearly: tuple[str, ...] = ()
        """What was almost heard."""
        self.failure = ""
        """Why phrases are not heard, with the remedy."""
        self._settings = settings
        self._spotter: ProcessSpotter | None = None
        self._line: ListeningLine | None = None
        self._lock = threading.Lock()
        self._cue = settings.listening.cue or ""
        if settings.commands:
            engine = settings.listening.engine
            heard = hearable(settings.vocabulary(settings.plan()), engine, voice)
            self._spotter = ProcessSpotter(partial(open_spotter, heard.vocabulary, engine, voice))
            self._line = ListeningLine(settings.listening.microphone or None, self._hear)
        self._hotkeys: Hotkeys | None = Hotkeys(
            settings.bindings.wanted, self._pressed, timings=settings.gestures.timings()
        )
        self._hotkeys.start()

    @property
    def ready(self) -> bool:
        """Whether phrases are listened for by now."""
        return self._spotter is not None and bool(self._spotter.name)

    @property
    def phrases_left(self) -> int:
        """How many phrases are still to be seen."""
        return max(0, PHRASES - sum(one.heard for one in self.tried)) if self._settings.commands else 0

    @property
    def keys_left(self) -> int:
        """How many keys are still to be seen."""
        return max(0, KEYS - sum(not one.heard for one in self.tried)) if self._settings.keys else 0

    @property
    def troubles(self) -> list[str]:
        """What keeps phrases or keys from being heard, with the remedies."""
        found = [self.failure] if self.failure else []
        if self._line is not None and (trouble := self._line.trouble) is not None:
            found.append(f"{trouble.words[0].upper()}{trouble.words[1:]}. {trouble.remedy}")
        if self._hotkeys is not None and (obstacle := self._hotkeys.obstacle) is not None:
            found.append(f"{obstacle.reason} {obstacle.remedy}")
        return found

    @property
    def resting(self) -> bool:
        """Whether nothing is listened for any more."""
        return self._hotkeys is None

    @property
    def stamp(self) -> str:
        """What changes with everything that the page shows."""
        return f"{len(self.tried)}-{len(self.nearly)}-{self.ready}-{self.troubles}-{self.resting}"

    @property
    def level_dbfs(self) -> float | None:
        """Loudness of the newest sound."""
        line = self._line
        return line.level_dbfs if line else None

    def rest(self) -> None:
        """Close microphone, recogniser and keys."""
        with self._lock:
            line, self._line = self._line, None
            spotter, self._spotter = self._spotter, None
            hotkeys, self._hotkeys = self._hotkeys, None
        closings: list[Callable[[], None]] = [part.close for part in (line, spotter, hotkeys) if part]
        for close in closings:
            close()

    def _hear(self, block: Block) -> None:
        spotter = self._spotter
        if spotter is None or self.failure:
            return
        try:
            # What is said before the recogniser is open would be told long afterwards.
            found = spotter.hear(block.sound if spotter.name else NOTHING)
        except CompanionError as error:
            self.failure = f"{error.what[0].upper()}{error.what[1:]} {error.remedy}".strip()
            return
        for candidate in found:
            command = self._settings.commands.get(candidate.phrase)
            said = f"{self._cue} {candidate.phrase}".strip()
            if candidate.fired and command is not None:
                sure = round(100 * candidate.confidence)
                self.tried = (*self.tried, SeenToBeHeard(True, said, command, sure))
            else:
                self.nearly = (*self.nearly, said)

    def _pressed(self, gesture: Gesture) -> None:
        command = self._settings.bindings.command_for(gesture)
        if command is not None:
            self.tried = (
                *self.tried,
                SeenToBeHeard(False, written(gesture.button, gesture.touch), command, 100),
            )
