"""Finds one phrase in windows of sound: by its phonemes, then by its likeness to the teacher's own takes.

Two witnesses that fail for different reasons. The phonemes (`keyword_fit`) are looked for everywhere, and
are known from the dictionary and from how the network spelt the takes. Where they fit at all, a linear
classifier over the speech embedding, learnt from varied takes against other speech, has its say. Their sum is
the score; how scores become probabilities is learnt from other speech and from the takes.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from companion.listening.embedding import DIMENSIONS, SPAN_S, STEP_S
from companion.listening.keyword_fit import Chain, fit
from companion.listening.phoneme_model import Frames, seconds

LEAST_FIT = -30.0
"""Nats; where the phonemes fit worse than this the phrase was never said, and the embedding isn't asked."""

FIT_WEIGHT = 0.25
"""What a nat of fit counts beside a unit of the classifier's log odds (chosen on development words)."""

EMBEDDINGS = 12
"""Embeddings that the classifier looks at (1.7 s), the last of them reaching `AFTER_S` past the phrase."""
AFTER_S = 0.15
SHIFTS = (-2, -1, 0, 1, 2)
"""The classifier looks this many embeddings earlier and later too, and the best counts."""


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

    embeddings: None for an untaught detector, which weighs them with nothing.
    """
    found = fit(heard, detector.chains)
    best = int(found.score[0].argmax())
    nats = float(found.score[0, best])
    if nats < LEAST_FIT:
        return None
    end = found.end[0, best]
    likeness = 0.0
    if embeddings is not None:
        likeness = float(likenesses(detector, embeddings[np.newaxis], np.array([end]))[0])
    return Detection(
        nats,
        likeness,
        total(nats, likeness),
        seconds(float(found.begin[0, best])),
        seconds(float(end) + 1),
    )


def best_fit(costs: Frames, chains: Sequence[Chain]) -> tuple[NDArray[np.float32], NDArray[np.int64]]:
    """Return for each window how well the best of the chains fits, and in which frame it ends."""
    found = fit(costs, chains)
    rows, best = np.arange(len(costs)), found.score.argmax(axis=1)
    return found.score[rows, best], found.end[rows, best]


def likenesses(
    detector: Detector, embeddings: NDArray[np.float32], ends: NDArray[np.int64]
) -> NDArray[np.float64]:
    """Return the classifier's log odds for windows in which the phrase ends in frames `ends`."""
    views = [views_at(embeddings, ends, shift) @ detector.weights + detector.bias for shift in SHIFTS]
    return np.asarray(np.max(views, axis=0), np.float64)


def total(nats: float, likeness: float) -> float:
    """Return the score of a place where phonemes and classifier say this."""
    return FIT_WEIGHT * nats + likeness


def views_at(embeddings: NDArray[np.float32], ends: NDArray[np.int64], shift: int = 0) -> NDArray[np.float32]:
    """Return what the classifier looks at: windows x (`EMBEDDINGS` * 96)."""
    last = np.rint((ends * seconds(1) + AFTER_S - SPAN_S) / STEP_S).astype(int) + shift
    at = np.clip(last[:, np.newaxis] - np.arange(EMBEDDINGS)[::-1], 0, embeddings.shape[1] - 1)
    views = embeddings[np.arange(len(embeddings))[:, np.newaxis], at]
    return np.reshape(views, (-1, EMBEDDINGS * DIMENSIONS))
