"""The rooms and noises in which clips are heard."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from companion.listening.detection.takes import Floats, babble, in_room, noisy, room
from companion.listening.sound import SAMPLE_RATE, Sound

LEAD = SAMPLE_RATE
"""Sound of the room before and after each clip."""


@dataclass(frozen=True, slots=True)
class Condition:
    """How far away the teacher is, and how loud the room."""

    far: bool
    snr_db: float | None
    """None: nothing but a microphone's own noise."""

    @property
    def name(self) -> str:
        """Return a short name for tables."""
        return ("far, " if self.far else "") + ("clean" if self.snr_db is None else f"{self.snr_db:g} dB")


NEAR = tuple(Condition(False, snr) for snr in (None, 20.0, 10.0, 5.0, 0.0))
FAR = tuple(Condition(True, snr) for snr in (None, 10.0, 5.0))
ALL = NEAR + FAR
AS_RECORDED = NEAR[:1]


def place(clip: Sound, condition: Condition, rooms: Sequence[Sound], rng: np.random.Generator) -> Sound:
    """Put a clip into a condition, with a second of the room before it and after it."""
    around = np.concatenate((np.zeros(LEAD), clip.astype(np.float64), np.zeros(LEAD)))
    if condition.far:
        around = in_room(around, room(rng, (0.4, 0.6)))
    peak = np.abs(around).max() + 1.0
    whole: Sound = np.rint(around / peak * 12_000 + rng.normal(0, 3, len(around))).astype(np.int16)
    if condition.snr_db is None:
        return whole
    return noisy(whole, _noise(rooms, rng, len(whole)), condition.snr_db)


def _noise(rooms: Sequence[Sound], rng: np.random.Generator, samples: int) -> Floats:
    if not rooms:
        return babble(rng, samples)
    noise = rooms[int(rng.integers(len(rooms)))].astype(np.float64)
    noise = np.tile(noise, 1 + samples // max(1, len(noise)))
    start = int(rng.integers(len(noise) - samples + 1))
    return noise[start : start + samples]
