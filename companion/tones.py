"""Short tones that tell without a look what was just recorded. All are synthesised here.

They differ in rhythm and direction, not only in pitch. Whoever plays one does so after the event is
durable. A tone that can't be played is dropped: nothing waits for it and nothing fails with it.
"""

import logging
import threading
from contextlib import AbstractContextManager, suppress
from enum import StrEnum
from functools import cache
from queue import Empty, Full, Queue

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from companion.section import Section

log = logging.getLogger(__name__)

EDGE_S = 0.012
"""Length of each note's fade in; without it a note begins with a click."""
DECAY_S = 0.11
"""Time in which a note falls to 1/e."""
TAIL_S = 0.15
"""Silence after each tone: sound systems swallow the last moments of what they are given."""
WAITING = 2
"""Tones that may wait for their turn; more would tell of things long past."""


class Tone(StrEnum):
    """What there is to tell."""

    PRAISE = "praise"
    REMINDER = "reminder"
    UNDO = "undo"
    NOTE = "note"
    REFUSAL = "refusal"


class TonesSection(Section):
    """`[tones]` of the settings file."""

    volume: float = Field(0.3, ge=0, le=1)
    """0 turns the tones off."""


NOTES: dict[Tone, tuple[tuple[float, float], ...]] = {
    Tone.PRAISE: ((660.0, 0.10), (990.0, 0.20)),
    Tone.REMINDER: ((392.0, 0.30),),
    Tone.UNDO: ((880.0, 0.08), (660.0, 0.08), (440.0, 0.18)),
    Tone.NOTE: ((523.0, 0.07), (0.0, 0.06), (523.0, 0.14)),
    Tone.REFUSAL: ((196.0, 0.12), (0.0, 0.04), (196.0, 0.12), (0.0, 0.04), (196.0, 0.12)),
}
"""Pitch in hertz (0 is a rest) and length in seconds of each tone's notes."""


@cache
def sound_of(tone: Tone, rate: int) -> NDArray[np.float32]:
    """Return `tone` as samples between -1 and 1 at `rate` samples a second, with silence at its end."""
    notes = [_note(pitch, length_s, rate) for pitch, length_s in NOTES[tone]]
    return np.concatenate([*notes, np.zeros(round(TAIL_S * rate))]).astype(np.float32)


def _note(pitch: float, length_s: float, rate: int) -> NDArray[np.float64]:
    """Return one note: a sine with two soft overtones, so that small loudspeakers carry the low ones too."""
    at_s = np.arange(round(length_s * rate)) / rate
    turns = 2 * np.pi * pitch * at_s
    wave = (np.sin(turns) + 0.4 * np.sin(2 * turns) + 0.2 * np.sin(3 * turns)) / 1.6
    fade_in = np.minimum(at_s / EDGE_S, 1.0)
    fade_out = np.minimum((length_s - at_s) / EDGE_S, 1.0)
    return wave * fade_in * fade_out * np.exp(-at_s / DECAY_S)


class Tones:
    """Plays tones one after the other on a thread of its own.

    volume: 0 (off) to 1.
    sound_system: held while a tone plays, so that nobody shuts the sound system down under it.
    """

    def __init__(self, volume: float, sound_system: AbstractContextManager[object] | None = None) -> None:
        self.volume = volume
        self._sound_system = sound_system or threading.Lock()
        self._waiting: Queue[Tone | None] = Queue(WAITING)
        self._failed = False
        self._thread = threading.Thread(target=self._run, name="tones", daemon=True)

    def play(self, tone: Tone) -> None:
        """Let `tone` sound as soon as may be; returns at once."""
        if self.volume > 0:
            if not self._thread.is_alive():
                self._thread.start()
            try:
                self._waiting.put_nowait(tone)
            except Full:
                log.debug("a tone was dropped: others are waiting")

    def close(self, patience_s: float = 1.0) -> None:
        """Let the tone that sounds come to its end, if it does so within `patience_s`."""
        if not self._thread.is_alive():
            return
        with suppress(Empty):
            while True:
                self._waiting.get_nowait()
        self._waiting.put(None)
        self._thread.join(patience_s)

    def _run(self) -> None:
        while (tone := self._waiting.get()) is not None:
            try:
                with self._sound_system:
                    self._sound(tone)
            except Exception as error:
                if not self._failed:
                    log.warning("a tone could not be played: %s", error)
                self._failed = True
            else:
                self._failed = False

    def _sound(self, tone: Tone) -> None:
        import sounddevice as sd  # noqa: PLC0415 - only a lesson with tones needs it

        rate = round(sd.query_devices(kind="output")["default_samplerate"])
        sound = sound_of(tone, rate) * np.float32(self.volume)
        with sd.OutputStream(samplerate=rate, channels=1, dtype="float32") as stream:
            stream.write(sound)
