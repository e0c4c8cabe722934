"""How the timbre of a take goes on through its phrase, and how far what is heard is from that.

Who speaks is told more surely where it is known what is said: each moment of the heard phrase is compared
with the same moment of a take. The moments are found by dynamic time warping (Sakoe and Chiba, Dynamic
programming algorithm optimization for spoken word recognition, IEEE ASSP 1978), over cepstra of the mel
spectrum (Davis and Mermelstein, IEEE ASSP 1980). A room is no part of a voice: what it sounds like beside the
phrase is added to the take before the two are compared (as in parallel model combination: Gales and Young,
1996).

Kept of a take are twenty numbers for each fiftieth of a second, without pitch: that is no sound, but a
skilled person could make a whisper of the phrase of it.
"""

from collections.abc import Sequence
from functools import cache

import numpy as np
from numpy.typing import NDArray

from companion.listening.sound import Sound
from companion.listening.voice.mel import CHANNELS, mel_filters, spectra

CEPSTRA = 20
SOFTEST = 1e-4
"""Of the power of speech: what is softer counts as silent."""
LOUDNESS_COUNTS = 0.3
"""Beside the other cepstra: how loud something is said tells little of a voice."""
CLEAR_DB = 20.0
"""A moment of a take so much louder than the room counts most, one no louder than it not at all."""
NEAREST = 2
"""Takes that what is heard is compared with: the nearest ones."""
_NEVER = 1e12

Course = NDArray[np.float32]
"""Cepstra in dB above the level of its speech: moments of 20 ms x `CEPSTRA`."""
Spectrum = NDArray[np.float64]
"""Mean mel power: `CHANNELS`."""


def course_of(speech: Sound) -> Course:
    """Return the course of a take that has no pause before it or after it."""
    mels = _moments(speech)
    return np.asarray(10 * np.log10(mels / _level(mels) + 1e-6) @ _cosines().T, np.float32)


def room_in(sounds: Sequence[Sound]) -> Spectrum:
    """Return a room by the softer moments of the sound beside a phrase; nothing where there is none."""
    mels = np.concatenate([np.zeros((0, CHANNELS)), *map(_moments, sounds)])
    if not len(mels):
        return np.zeros(CHANNELS)
    loud = mels.sum(axis=1)
    return np.asarray(mels[loud <= np.quantile(loud, 0.6)].mean(axis=0), np.float64)


def distance(speech: Sound, room: Spectrum, takes: Sequence[Course]) -> float:
    """Return the mean squared distance (dB²) of speech in a room to the nearest of the takes.

    It may begin before the phrase and end behind it.
    """
    mels = _moments(speech)
    level = _level(np.maximum(mels - room, 0)) + 1e-12
    return _nearest(_distances(mels / level, room / level, takes))


def among(takes: Sequence[Course]) -> float:
    """Return how far a take is from the nearest of the others, on the mean."""
    silence = np.zeros(CHANNELS)
    apart = [
        _nearest(_distances(_mels(take), silence, [*takes[:number], *takes[number + 1 :]]))
        for number, take in enumerate(takes)
    ]
    return float(np.exp(np.mean(np.log1p(apart))) - 1)


def _distances(mels: NDArray[np.float64], room: Spectrum, takes: Sequence[Course]) -> NDArray[np.float64]:
    """Return the distance to each take (mels, room: power beside that of speech).

    A step of the path goes on by one moment of what is heard, and by none, one or two of the take; it counts
    by how much of both it passes.
    """
    each, longest = np.arange(len(takes)), max(map(len, takes))
    said, counts = np.zeros((len(takes), longest, CEPSTRA)), np.zeros((len(takes), longest))
    for row, take in enumerate(takes):
        spectrum = _mels(take)
        above_db = 10 * np.log10(spectrum.sum(axis=1) / (room.sum() + 1e-3))
        clear = np.clip(above_db, 0, CLEAR_DB)
        said[row, : len(take)] = _cepstra(spectrum + room)
        counts[row, : len(take)] = clear / (clear.mean() + 1e-9)
    heard = _cepstra(mels)
    products = (heard @ said.reshape(-1, CEPSTRA).T).reshape(len(heard), len(takes), longest)
    apart = np.sum(heard**2, axis=1)[:, np.newaxis, np.newaxis] + np.sum(said**2, axis=2) - 2 * products
    apart *= counts
    last = np.array([len(take) + 1 for take in takes])
    # Two columns before the first moment stand for none: nothing comes from there.
    reached = np.full((len(takes), longest + 2), _NEVER)
    began = np.zeros(reached.shape, np.int64)
    nearest = np.full(len(takes), _NEVER)
    for moment, here in enumerate(apart):
        half = 0.5 * here
        still, on, over = reached[:, 2:] + half, reached[:, 1:-1] + here, reached[:, :-2] + here + half
        on[:, 0] = here[:, 0]
        began[:, 1] = moment
        further = np.minimum(on, over)
        starts = np.where(on <= over, began[:, 1:-1], began[:, :-2])
        began[:, 2:] = np.where(still <= further, began[:, 2:], starts)
        np.minimum(still, further, out=reached[:, 2:])
        passed = (moment - began[each, last] + last) / 2
        nearest = np.minimum(nearest, reached[each, last] / passed)
    return nearest


def _nearest(distances: NDArray[np.float64]) -> float:
    return float(np.sort(distances)[:NEAREST].mean())


def _moments(sound: Sound) -> NDArray[np.float64]:
    """Return the mel power of each 20 ms (moments x channels)."""
    mels = spectra(sound) @ mel_filters(CHANNELS)
    return np.asarray(mels[: len(mels) // 2 * 2].reshape(-1, 2, CHANNELS).mean(axis=1))


def _level(mels: NDArray[np.float64]) -> float:
    """Return the mean power of the loudest third."""
    loud = np.sort(mels.sum(axis=1))
    return float(loud[-max(1, len(loud) // 3) :].mean()) + 1e-12


def _cepstra(mels: NDArray[np.float64]) -> NDArray[np.float64]:
    counts = np.r_[LOUDNESS_COUNTS, np.ones(CEPSTRA - 1)]
    return np.asarray(10 * np.log10(mels + SOFTEST) @ _cosines().T * counts)


def _mels(course: Course) -> NDArray[np.float64]:
    return np.asarray(10 ** (course.astype(np.float64) @ _cosines() / 10))


@cache
def _cosines() -> NDArray[np.float64]:
    """Return the orthonormal cosine transform of type II (`CEPSTRA` x `CHANNELS`)."""
    places = (np.arange(CHANNELS) + 0.5) / CHANNELS
    waves = np.cos(np.pi * np.arange(CEPSTRA)[:, np.newaxis] * places) * np.sqrt(2 / CHANNELS)
    waves[0] /= np.sqrt(2)
    return np.asarray(waves)
