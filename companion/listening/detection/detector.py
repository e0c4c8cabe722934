"""Finds one phrase in windows of sound: by its phonemes, and by its likeness to the teacher's own takes.

Two witnesses. `keyword_fit` says how well the phonemes fit when the phrase ends in any frame; a linear
classifier over the embeddings, learnt from varied takes against other speech, says how alike that place
sounds. The place where their sum is highest counts; how scores become probabilities is learnt from other
speech.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from companion.listening.phonemes.acoustic_model import (
    DIMENSIONS,
    FRAMES_TOGETHER,
    PLACES,
    Frames,
    Looks,
    seconds,
)
from companion.listening.phonemes.search import Chain, search

LEAST_FIT = -30.0
"""Nats; where the phonemes fit worse than this the phrase was never said."""

FIT_WEIGHT = 0.5
"""What a nat of fit counts beside a unit of the classifier's log odds (chosen on development words)."""

SEEN = 10
"""Embeddings that the classifier looks at (0.8 s), the last of them behind the phrase."""
REACH = 6
"""The phonemes may end so many frames (0.12 s) before or after a place."""

ENDS = np.arange(PLACES) * FRAMES_TOGETHER + FRAMES_TOGETHER - 1
"""The frame in which a phrase ends at each place."""

STEEPER_ABOVE = 2.5
"""Above the firing point log odds grow so much faster than beneath it: of what is found there, nearly all
was said (development words, two draws of takes, 1.9 h of other talk, half of it in babble)."""

_TOGETHER = 500
"""Windows that are searched at once."""


@dataclass(frozen=True, slots=True)
class Detector:
    """What was learnt about one phrase. Plain numbers, so that it can be kept as features of a voice."""

    phrase: str
    chains: tuple[Chain, ...]
    weights: NDArray[np.float64]
    bias: float
    fires_at: float
    """Score from which the phrase is believed."""
    slope: float
    """How log odds grow with the score beneath the firing point."""

    def log_odds(self, score: float) -> float:
        """Return the calibrated log odds that the phrase was said."""
        above = score - self.fires_at
        return self.slope * above * (STEEPER_ABOVE if above > 0 else 1)


@dataclass(frozen=True, slots=True)
class Detection:
    """Where in a window a phrase fits best. Times in seconds from the window's begin."""

    fit: float
    likeness: float
    score: float
    begin_s: float
    end_s: float


def detect(detector: Detector, heard: Looks) -> Detection | None:
    """Look for the phrase in one window; None where nothing is like it."""
    found = search(heard.costs, detector.chains)
    by_frame = found.score[0].max(axis=1)
    nats = _around(by_frame[np.newaxis])[0]
    alike = likenesses(detector, heard.embeddings)[0]
    summed = total(nats, alike)
    place = int(summed.argmax())
    if nats[place] < LEAST_FIT:
        return None
    first = max(0, int(ENDS[place]) - REACH)
    end = first + int(by_frame[first : ENDS[place] + REACH + 1].argmax())
    begin = int(found.begin[0, end, found.score[0, end].argmax()])
    return Detection(
        float(nats[place]), float(alike[place]), float(summed[place]), seconds(begin), seconds(end + 1)
    )


def scores(detector: Detector, heard: Looks) -> NDArray[np.float64]:
    """Return the highest score in each window."""
    return highest(fits(heard.costs, detector.chains), likenesses(detector, heard.embeddings))


def highest(nats: NDArray[np.float32], likeness: NDArray[np.float32]) -> NDArray[np.float64]:
    """Return the score of the best place in each window (both: windows x `PLACES`)."""
    return np.asarray(total(nats, likeness).max(axis=1), np.float64)


def fits(costs: Frames, chains: Sequence[Chain]) -> NDArray[np.float32]:
    """Return how well the best of the chains fits at each place: windows x `PLACES`, nats."""
    parts = [
        search(costs[at : at + _TOGETHER], chains).score.max(axis=2) for at in range(0, len(costs), _TOGETHER)
    ]
    return _around(np.concatenate(parts)) if parts else np.zeros((0, PLACES), np.float32)


def likenesses(detector: Detector, embeddings: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the classifier's log odds at each place: windows x `PLACES`."""
    by_lag = embeddings @ detector.weights.reshape(SEEN, DIMENSIONS).T.astype(np.float32)
    lags = np.arange(SEEN)
    return np.asarray(by_lag[:, _seen_from(np.arange(PLACES)), lags].sum(axis=2) + detector.bias, np.float32)


def likeness_of(detector: Detector, stretches: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the classifier's log odds of stretches that begin a place before what it looks at."""
    seen = stretches[:, 1 : 1 + SEEN].reshape(len(stretches), SEEN * DIMENSIONS)
    return np.asarray(seen @ detector.weights.astype(np.float32) + detector.bias, np.float32)


def total(nats: NDArray[np.float32], likeness: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the scores of places where phonemes and classifier say this."""
    return np.asarray(FIT_WEIGHT * np.maximum(nats, 2 * LEAST_FIT) + likeness, np.float32)


def views(embeddings: NDArray[np.float32], places: NDArray[np.int64]) -> NDArray[np.float32]:
    """Return what the classifier looks at in each window at one place: windows x (`SEEN` * `DIMENSIONS`)."""
    seen = embeddings[np.arange(len(embeddings))[:, np.newaxis], _seen_from(places)]
    return np.reshape(seen, (-1, SEEN * DIMENSIONS))


def _seen_from(places: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return places x `SEEN`: which embeddings the classifier sees (at the edges, the outermost again)."""
    return np.asarray(np.clip(places[:, np.newaxis] + 1 - np.arange(SEEN)[::-1], 0, PLACES - 1), np.int64)


def _around(by_frame: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the best of the frames around each place (windows x frames -> windows x `PLACES`)."""
    padded = np.pad(by_frame, ((0, 0), (REACH, REACH)), constant_values=-np.inf)
    near = ENDS[:, np.newaxis] + np.arange(2 * REACH + 1)
    return np.asarray(padded[:, near].max(axis=2), np.float32)
