"""Learns a detector from a handful of takes."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from importlib import resources

import numpy as np
from numpy.typing import NDArray

from companion.errors import CompanionError
from companion.listening.candidate import Sound
from companion.listening.detector import (
    EMBEDDINGS,
    LEAST_FIT,
    SHIFTS,
    Detector,
    best_fit,
    likenesses,
    total,
    views_at,
)
from companion.listening.embedding import DIMENSIONS, embed
from companion.listening.enrolment import pieces, varied_windows
from companion.listening.keyword_fit import FLOOR, Chain
from companion.listening.phoneme_model import WINDOW_FRAMES, Frames, hear_phonemes, seconds
from companion.listening.pronunciation import pronunciations, words

FEWEST_TAKES = 3
VARIANTS = 160
"""Variants of all takes together that the classifier learns from."""

FALSE_ALARMS_PER_HOUR = 0.3
"""What the firing point is set for, on speech that the detector did not learn from."""

STRICTNESS = 0.001
"""Inverse strength of the classifier's L2 penalty (chosen on development words)."""

_MOST_CHAINS = 6
_BATCH = 16
_LEAST_SCALE = 0.5
_NO_RIVAL = 0.0
"""Where the tail begins when next to nothing in other speech is like the phrase."""
_NO_PHRASE_ENDS_BEFORE = 30
"""Frame in which a phrase can end at the earliest."""


@dataclass(frozen=True, slots=True)
class Others:
    """Windows of speech that holds none of the phrases, as the two networks hear them."""

    costs: Frames
    embeddings: NDArray[np.float32]

    @property
    def hours(self) -> float:
        """How much speech it is."""
        return len(self.costs) * seconds(WINDOW_FRAMES) / 3600


def learn(phrase: str, takes: Sequence[Sound], talk: Sequence[Sound] = (), *, seed: int = 0) -> Detector:
    """Learn to detect `phrase` from takes of it, against bundled speech and the same voice's `talk`.

    Raises CompanionError when there are fewer than `FEWEST_TAKES` takes.
    """
    if len(takes) < FEWEST_TAKES:
        raise CompanionError(
            f"There are only {len(takes)} takes of “{phrase}”; {FEWEST_TAKES} are the fewest to learn from.",
            remedy="Record at least five.",
        )
    rng = np.random.default_rng(seed)
    chains = ways_to_say(phrase)
    varied = hear_all(varied_windows(takes, -(-VARIANTS // len(takes)), rng))
    others = _together(bundled_others(), _own(talk))
    learner, judge = _halves(others, rng)
    detector = _classifier(phrase, chains, varied, learner, rng)
    return _calibrated(detector, judge)


def untaught(phrase: str, others: Others) -> Detector:
    """Return a detector of `phrase` that knows no voice: by its pronunciations alone.

    Its firing point is set on `others`, the bundled speech, like that of a detector that was learnt.
    """
    weights = np.zeros(EMBEDDINGS * DIMENSIONS)
    return _calibrated(Detector(phrase, ways_to_say(phrase), weights, 0.0, 0.0, 1.0), others)


def ways_to_say(phrase: str) -> tuple[Chain, ...]:
    """Return the phrase's pronunciations by the dictionary, two for each word at most.

    How the network spells the takes is no use here: it leaves out phonemes, and a chain that lacks some
    fits other talk as well (on development words, ten times the misses at the same false alarms).
    """
    spoken: list[Chain] = [()]
    for word in words(phrase):
        spoken = [chain + way for chain in spoken for way in pronunciations(word)[:2]]
    return tuple(dict.fromkeys(spoken))[:_MOST_CHAINS]


def hear_all(windows: NDArray[np.int16]) -> Others:
    """Let both networks hear windows."""
    costs = [
        np.maximum(hear_phonemes(windows[at : at + _BATCH]), FLOOR) for at in range(0, len(windows), _BATCH)
    ]
    return Others(np.concatenate(costs), embed(windows))


def bundled_others() -> Others:
    """Return the speech that comes with the companion; `negatives.md` says whose it is.

    It takes 40 MB, so nobody keeps it through a lesson.
    """
    path = resources.files("companion.listening").joinpath("negatives.npz")
    with path.open("rb") as file, np.load(file) as stored:
        return Others(
            stored["costs"].astype(np.float32) * stored["costs_unit"],
            stored["embeddings"].astype(np.float32) * stored["embeddings_unit"],
        )


def _own(talk: Sequence[Sound]) -> Others | None:
    windows = list(pieces(talk))
    return hear_all(np.stack(windows)) if windows else None


def _together(first: Others, second: Others | None) -> Others:
    if second is None:
        return first
    return Others(
        np.concatenate((first.costs, second.costs)),
        np.concatenate((first.embeddings, second.embeddings)),
    )


def _halves(others: Others, rng: np.random.Generator) -> tuple[Others, Others]:
    """Split into what the classifier learns from and what it is judged on."""
    order = rng.permutation(len(others.costs))
    half = len(order) // 2
    learn_from, judge_on = order[:half], order[half:]
    return (
        Others(others.costs[learn_from], others.embeddings[learn_from]),
        Others(others.costs[judge_on], others.embeddings[judge_on]),
    )


def _classifier(
    phrase: str, chains: tuple[Chain, ...], varied: Others, others: Others, rng: np.random.Generator
) -> Detector:
    from sklearn.linear_model import LogisticRegression  # noqa: PLC0415 - a second to import
    from sklearn.preprocessing import StandardScaler  # noqa: PLC0415

    nats, ends = best_fit(varied.costs, chains)
    clear = nats > LEAST_FIT
    said = np.concatenate([views_at(varied.embeddings[clear], ends[clear], shift) for shift in SHIFTS[1:-1]])
    last = others.costs.shape[1]
    unsaid = np.concatenate(
        [
            views_at(others.embeddings, rng.integers(_NO_PHRASE_ENDS_BEFORE, last, len(others.costs)))
            for _ in range(5)
        ]
        + [views_at(others.embeddings, best_fit(others.costs, chains)[1], shift) for shift in SHIFTS]
    )
    scaler = StandardScaler().fit(np.concatenate((said, unsaid)))
    model = LogisticRegression(C=STRICTNESS, max_iter=300, class_weight="balanced").fit(
        scaler.transform(np.concatenate((said, unsaid))),
        np.concatenate((np.ones(len(said)), np.zeros(len(unsaid)))),
    )
    weights = model.coef_[0] / scaler.scale_
    bias = float(model.intercept_[0] - scaler.mean_ @ weights)
    return Detector(phrase, chains, weights, bias, fires_at=0.0, slope=1.0)


def _calibrated(detector: Detector, others: Others) -> Detector:
    """Set the firing point and the slope by speech that was not learnt from."""
    base, scale, often = _tail(_scores(detector, others))
    fires_at = base + scale * np.log(often / (FALSE_ALARMS_PER_HOUR * others.hours))
    return replace(detector, fires_at=float(fires_at), slope=1 / scale)


def _scores(detector: Detector, others: Others) -> NDArray[np.float64]:
    nats, ends = best_fit(others.costs, detector.chains)
    alike = likenesses(detector, others.embeddings, ends)
    return np.array([total(float(n), float(a)) for n, a in zip(nats, alike, strict=True) if n > LEAST_FIT])


def _tail(scores: NDArray[np.float64]) -> tuple[float, float, int]:
    """Fit an exponential to the highest tenth of the scores (Pickands-Balkema-de Haan).

    Returns where the tail begins, how slowly it falls (the score in which it falls by e), and how many
    scores it holds.
    """
    ordered = np.sort(scores)[::-1]
    often = max(10, len(ordered) // 10)
    if len(ordered) <= often:
        return _NO_RIVAL, 1.0, 1
    base = float(ordered[often])
    return base, max(_LEAST_SCALE, float(np.mean(ordered[:often] - base))), often
