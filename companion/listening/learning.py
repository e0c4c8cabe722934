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
    FIT_WEIGHT,
    IN_WINDOW,
    LEAST_FIT,
    Detector,
    fits,
    scores,
    total,
    views,
)
from companion.listening.embedding import DIMENSIONS, embed
from companion.listening.enrolment import pieces, varied_windows
from companion.listening.keyword_fit import FLOOR, Chain
from companion.listening.phoneme_model import WINDOW_FRAMES, Frames, hear_phonemes, seconds
from companion.listening.pronunciation import pronunciations, words

FEWEST_TAKES = 3
VARIANTS = 160
"""Variants of all takes together that the classifier learns from."""

FALSE_ALARMS_PER_HOUR = 0.5
"""What the firing point is set for, on speech that the detector did not learn from."""

STRICTNESS = 0.0003
"""Inverse strength of the classifier's L2 penalty (chosen on development words)."""

_MOST_CHAINS = 6
_BATCH = 16
_TAIL = 40
"""How many of the highest scores tell how the tail of the scores falls."""
_LEAST_SCALE = 0.3
MOVING_WINDOW = 2.3
"""A moving window finds so many times what windows side by side find (measured with untaught detectors of 49
phrases on 1.3 h of other talk)."""
_STRANGER_TALK = 8.0
"""The same for a taught detector, to which talk unlike the bundled speech is less known (two words, three
draws of takes each)."""
_NO_RIVAL = 0.0
"""Where the tail begins when next to nothing in other speech is like the phrase."""
_SAID_FROM = 17
"""The first place of a varied window in which its phrase, which ends 0.1 to 0.5 s before it does, can be."""
_VIEWS = 4
"""Random places in each window of other speech, and as many of those most like the phrase, learnt against."""


@dataclass(frozen=True, slots=True)
class Others:
    """Windows of speech that holds none of the phrases, as the two networks hear them."""

    costs: Frames
    embeddings: NDArray[np.float32]


def hours(costs: Frames) -> float:
    """Return how much speech these windows hold."""
    return len(costs) * seconds(WINDOW_FRAMES) / 3600


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
    varied = hear_all(varied_windows(takes, -(-VARIANTS // len(takes)), rng))
    return teach(phrase, varied, _together(bundled_others(), _own(talk)), rng)


def teach(phrase: str, varied: Others, others: Others, rng: np.random.Generator) -> Detector:
    """Learn to detect `phrase` from what the networks hear in variants of its takes, against other speech.

    The firing point is set on scores of speech that was not learnt from: each half is scored by what was
    learnt against the other half. What is returned was learnt against both.
    """
    chains = ways_to_say(phrase)
    near = fits(others.costs, chains)
    # Two windows that follow each other may hold the same speech, and stay together.
    first = np.repeat(rng.random(len(near) // 2 + 1) < 0.5, 2)[: len(near)]
    unseen = []
    for half in (first, ~first):
        detector = _classifier(phrase, chains, varied, _only(others, ~half), near[~half], rng)
        unseen.append(scores(detector, *_heard(others, half)))
    detector = _classifier(phrase, chains, varied, others, near, rng)
    return _calibrated(detector, np.concatenate(unseen), hours(others.costs) / _STRANGER_TALK)


def untaught(phrase: str, costs: Frames) -> Detector:
    """Return a detector of `phrase` that knows no voice: by its pronunciations alone.

    Its firing point is set on `costs`, those of the bundled speech, like that of a detector that was learnt.
    """
    detector = Detector(phrase, ways_to_say(phrase), np.zeros(EMBEDDINGS * DIMENSIONS), 0.0, 0.0, 1.0)
    near = fits(costs, detector.chains).max(axis=1)
    unseen = total(near, np.zeros_like(near)).astype(np.float64)
    return _calibrated(detector, unseen, hours(costs) / MOVING_WINDOW)


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

    It takes 120 MB, so nobody keeps it through a lesson.
    """
    return Others(bundled_costs(), _bundled("embeddings"))


def bundled_costs() -> Frames:
    """Return what the phoneme network hears in the bundled speech: windows x frames x classes."""
    return _bundled("costs")


def _bundled(name: str) -> NDArray[np.float32]:
    path = resources.files("companion.listening").joinpath("negatives.npz")
    with path.open("rb") as file, np.load(file) as stored:
        return np.asarray(stored[name] * stored[f"{name}_unit"], np.float32)


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


def _only(others: Others, chosen: NDArray[np.bool_]) -> Others:
    return Others(*_heard(others, chosen))


def _heard(others: Others, chosen: NDArray[np.bool_]) -> tuple[Frames, NDArray[np.float32]]:
    return others.costs[chosen], others.embeddings[chosen]


def _classifier(  # noqa: PLR0917
    phrase: str,
    chains: tuple[Chain, ...],
    varied: Others,
    others: Others,
    near: NDArray[np.float32],
    rng: np.random.Generator,
) -> Detector:
    """Learn the classifier. near: how well the phonemes fit at each place of `others`."""
    from sklearn.linear_model import LogisticRegression  # noqa: PLC0415 - a second to import
    from sklearn.preprocessing import StandardScaler  # noqa: PLC0415

    fit_there = fits(varied.costs, chains)[:, _SAID_FROM:]
    clear = fit_there.max(axis=1) > LEAST_FIT
    places = _SAID_FROM + fit_there.argmax(axis=1)[clear]
    said = np.concatenate(
        [views(varied.embeddings[clear], np.minimum(places + by, IN_WINDOW - 1)) for by in (-1, 0, 1)]
    )
    alike = np.argsort(-near, axis=1)[:, :_VIEWS]
    anywhere = rng.integers(EMBEDDINGS - 1, IN_WINDOW, (len(near), _VIEWS))
    unsaid = np.concatenate([views(others.embeddings, places) for places in (*alike.T, *anywhere.T)])
    scaler = StandardScaler().fit(np.concatenate((said, unsaid)))
    model = LogisticRegression(C=STRICTNESS, max_iter=300, class_weight="balanced").fit(
        scaler.transform(np.concatenate((said, unsaid))),
        np.concatenate((np.ones(len(said)), np.zeros(len(unsaid)))),
    )
    weights = model.coef_[0] / scaler.scale_
    bias = float(model.intercept_[0] - scaler.mean_ @ weights)
    return Detector(phrase, chains, weights, bias, fires_at=0.0, slope=1.0)


def _calibrated(detector: Detector, unseen: NDArray[np.float64], talk_h: float) -> Detector:
    """Set the firing point and the slope by the scores of windows of speech that was not learnt from.

    talk_h: hours of streamed talk in which so much is found.

    The highest scores fall exponentially (Pickands-Balkema-de Haan).
    """
    ordered = np.sort(unseen[unseen > FIT_WEIGHT * LEAST_FIT - 10])[::-1]
    if len(ordered) <= _TAIL:
        return replace(detector, fires_at=_NO_RIVAL, slope=1.0)
    base = float(ordered[_TAIL])
    scale = max(_LEAST_SCALE, float(np.mean(ordered[:_TAIL] - base)))
    fires_at = base + scale * np.log(_TAIL / (FALSE_ALARMS_PER_HOUR * talk_h))
    return replace(detector, fires_at=float(fires_at), slope=1 / scale)
