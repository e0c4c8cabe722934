"""The rooms and noises in which clips are heard. Nothing was learnt from any of them, nor fitted on them.

`listening/sources.md` says what they are made of; `models/making/make_bench_noise.py` makes them.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from importlib import resources
from io import BytesIO

import numpy as np
import soundfile

from companion.listening.detection.takes import Floats, in_room, noisy
from companion.listening.sound import SAMPLE_RATE, Sound

LEAD = SAMPLE_RATE
"""Sound of the room before and after each clip."""
CLASSROOM = "classroom.ogg"
"""Twelve voices at once, half of them made smaller, with chairs, dishes and water: the bundled noise."""
ECHOES = "echoes.flac"
"""Impulse responses of rooms by the image method, one after the other."""
ECHO_SAMPLES = SAMPLE_RATE // 2
"""Of each."""


@dataclass(frozen=True, slots=True)
class Condition:
    """How far away the teacher is, and how loud the room."""

    far: bool
    snr_db: float | None
    """None: nothing but a microphone's own noise."""
    own_noise: bool = False
    """Whether the noise is that of the folder's `rooms`, in place of the bundled one."""

    @property
    def name(self) -> str:
        """Return a short name for tables."""
        place = ("far, " if self.far else "") + ("own noise, " if self.own_noise else "")
        return place + ("clean" if self.snr_db is None else f"{self.snr_db:g} dB")


NEAR = tuple(Condition(False, snr) for snr in (None, 20.0, 10.0, 5.0, 0.0))
FAR = tuple(Condition(True, snr) for snr in (None, 10.0, 5.0))
ALL = NEAR + FAR
AS_RECORDED = NEAR[:1]


def with_own_noise(conditions: Sequence[Condition]) -> tuple[Condition, ...]:
    """Return the conditions, and after them the noisy ones again in the folder's own noise."""
    return (*conditions, *(replace(one, own_noise=True) for one in conditions if one.snr_db is not None))


def place(clip: Sound, condition: Condition, rooms: Sequence[Sound], rng: np.random.Generator) -> Sound:
    """Put a clip into a condition, with a second of the room before it and after it.

    rooms: noise of one's own, for the conditions that ask for it.
    """
    around = np.concatenate((np.zeros(LEAD), clip.astype(np.float64), np.zeros(LEAD)))
    if condition.far:
        echoes = _echoes()
        around = in_room(around, echoes[int(rng.integers(len(echoes)))])
    peak = np.abs(around).max() + 1.0
    whole: Sound = np.rint(around / peak * 12_000 + rng.normal(0, 3, len(around))).astype(np.int16)
    if condition.snr_db is None:
        return whole
    noises = rooms if condition.own_noise else (_classroom(),)
    return noisy(whole, _stretch(noises, rng, len(whole)), condition.snr_db)


def _stretch(noises: Sequence[Sound], rng: np.random.Generator, samples: int) -> Floats:
    noise = noises[int(rng.integers(len(noises)))].astype(np.float64)
    noise = np.tile(noise, 1 + samples // max(1, len(noise)))
    start = int(rng.integers(len(noise) - samples + 1))
    return noise[start : start + samples]


@cache
def _classroom() -> Sound:
    return _bundled(CLASSROOM)


@cache
def _echoes() -> Floats:
    return _bundled(ECHOES).reshape(-1, ECHO_SAMPLES) / 32768


def _bundled(name: str) -> Sound:
    data = resources.files("companion.bench").joinpath(name).read_bytes()
    recording, _ = soundfile.read(BytesIO(data), dtype="int16")
    return np.asarray(recording, np.int16)
