"""Finds one phrase in windows of sound: by its phonemes, and by its likeness to the teacher's own takes.

Two witnesses that fail for different reasons. `keyword_fit` says how well the phonemes fit when the phrase
ends in any frame; a linear classifier over the speech embedding, learnt from varied takes against other
speech, says how alike that place sounds. The place where their sum is highest counts; how scores become
probabilities is learnt from other speech.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from companion.listening.embedding import DIMENSIONS, SPAN_S, STEP_S
from companion.listening.keyword_fit import Chain, search
from companion.listening.phoneme_model import Frames, seconds

LEAST_FIT = -30.0
"""Nats; where the phonemes fit worse than this the phrase was never said."""

FIT_WEIGHT = 0.5
"""What a nat of fit counts beside a unit of the classifier's log odds (chosen on development words)."""

EMBEDDINGS = 12
"""Embeddings that the classifier looks at (1.7 s), the last of them reaching `AFTER_S` past the phrase."""
AFTER_S = 0.15
IN_WINDOW = 23
"""Embeddings in a window, and with them the places in it where a phrase can be found."""
REACH = 5
"""The phonemes may end so many frames (0.1 s) before or after a place."""

ENDS = np.rint((np.arange(IN_WINDOW) * STEP_S + SPAN_S - AFTER_S) / seconds(1)).astype(int)
"""The frame in which a phrase ends at each place."""

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
    """How log odds grow with the score."""

    def log_odds(self, score: float) -> float:
        """Return the calibrated log odds that the phrase was said."""
        return self.slope * (score - self.fires_at)


@dataclass(frozen=True, slots=True)
class Detection:
    """Where in a window a phrase fits best. Times in seconds from the window's begin."""

    fit: float
    likeness: float
    score: float
    begin_s: float
    end_s: float


def detect(detector: Detector, heard: Frames, embeddings: NDArray[np.float32] | None) -> Detection | None:
    """Look for the phrase in one window, as the two networks hear it; None where nothing is like it.

    heard: 1 x frames x classes. embeddings: as of `embed`, without the first axis; None for an untaught
    detector.
    """
    found = search(heard, detector.chains)
    by_frame = found.score[0].max(axis=1)
    nats = _around(by_frame[np.newaxis])[0]
    alike = np.zeros_like(nats) if embeddings is None else likenesses(detector, embeddings[np.newaxis])[0]
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


def scores(detector: Detector, costs: Frames, embeddings: NDArray[np.float32]) -> NDArray[np.float64]:
    """Return the highest score in each window."""
    return highest(fits(costs, detector.chains), likenesses(detector, embeddings))


def highest(nats: NDArray[np.float32], likeness: NDArray[np.float32]) -> NDArray[np.float64]:
    """Return the score of the best place in each window (both: windows x `IN_WINDOW`)."""
    return np.asarray(total(nats, likeness).max(axis=1), np.float64)


def fits(costs: Frames, chains: Sequence[Chain]) -> NDArray[np.float32]:
    """Return how well the best of the chains fits at each place: windows x `IN_WINDOW`, nats."""
    parts = [
        search(costs[at : at + _TOGETHER], chains).score.max(axis=2) for at in range(0, len(costs), _TOGETHER)
    ]
    return _around(np.concatenate(parts)) if parts else np.zeros((0, IN_WINDOW), np.float32)


def likenesses(detector: Detector, embeddings: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the classifier's log odds at each place: windows x `IN_WINDOW`."""
    by_lag = embeddings @ detector.weights.reshape(EMBEDDINGS, DIMENSIONS).T.astype(np.float32)
    lags = np.arange(EMBEDDINGS)
    return np.asarray(
        by_lag[:, _seen_from(np.arange(IN_WINDOW)), lags].sum(axis=2) + detector.bias, np.float32
    )


def total(nats: NDArray[np.float32], likeness: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the scores of places where phonemes and classifier say this."""
    return np.asarray(FIT_WEIGHT * np.maximum(nats, 2 * LEAST_FIT) + likeness, np.float32)


def views(embeddings: NDArray[np.float32], places: NDArray[np.int64]) -> NDArray[np.float32]:
    """Return what the classifier looks at in each window at one place: windows x (`EMBEDDINGS` * 96)."""
    seen = embeddings[np.arange(len(embeddings))[:, np.newaxis], _seen_from(places)]
    return np.reshape(seen, (-1, EMBEDDINGS * DIMENSIONS))


def _seen_from(places: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return places x `EMBEDDINGS`: which embeddings the classifier sees (the first for those before)."""
    return np.asarray(np.maximum(places[:, np.newaxis] - np.arange(EMBEDDINGS)[::-1], 0), np.int64)


def _around(by_frame: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the best of the frames around each place (windows x frames -> windows x `IN_WINDOW`)."""
    padded = np.pad(by_frame, ((0, 0), (REACH, REACH)), constant_values=-np.inf)
    near = ENDS[:, np.newaxis] + np.arange(2 * REACH + 1)
    return np.asarray(padded[:, near].max(axis=2), np.float32)
