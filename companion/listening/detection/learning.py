"""Learns a detector from a handful of takes."""

from collections.abc import Sequence
from dataclasses import replace
from importlib import resources

import numpy as np
from numpy.typing import NDArray

from companion.errors import CompanionError
from companion.language import _
from companion.lesson.vocabulary import Vocabulary
from companion.listening.detection.detector import (
    FIT_WEIGHT,
    LEAST_FIT,
    SEEN,
    Detector,
    fits,
    highest,
    likenesses,
    views,
)
from companion.listening.detection.regression import logistic_regression
from companion.listening.detection.takes import pieces, varied_windows
from companion.listening.phonemes.acoustic_model import (
    DIMENSIONS,
    PLACES,
    WINDOW_FRAMES,
    Frames,
    Looks,
    hear,
    seconds,
    together,
)
from companion.listening.phonemes.pronunciation import pronunciations, words
from companion.listening.phonemes.search import Chain
from companion.listening.sound import Sound

FEWEST_TAKES = 3
VARIANTS = 160
"""Variants of all takes together that the classifier learns from."""

FALSE_ALARMS_PER_HOUR = 0.5
"""What the firing point is set for, on speech that the detector did not learn from."""

STRICTNESS = 0.0003
"""Inverse strength of the classifier's L2 penalty (chosen on development words)."""

_MOST_CHAINS = 6
_TAIL = 40
"""How many of the highest scores tell how the tail of the scores falls."""
_LEAST_SCALE = 0.3
MOVING_WINDOW = 2.3
"""A moving window finds so many times what windows side by side find (measured with untaught detectors of 49
phrases on 1.3 h of other talk)."""
_STRANGER_TALK = 22.0
"""The same for a taught detector, to which talk unlike the bundled speech is less known (two words, three
draws of takes each, 1.2 h of other talk)."""
_STEEPER = 1.6
"""With a taught detector, log odds grow so much faster with the score than false alarms grow rarer: phrases
that were said lie far above the firing point, and grow rarer beneath (the same words and talk)."""
_NO_RIVAL = 0.0
"""Where the tail begins when next to nothing in other speech is like the phrase."""
_SAID_FROM = 23
"""The first place of a varied window in which its phrase, which ends 0.1 to 0.5 s before it does, can be."""
DROPPED_COUNTS = 30.0
"""As many views of other speech as one view of a sound counts that was taken for the phrase and dropped: so
some twenty of them weigh as much as all other speech."""
_VIEWS = 4
"""Random places in each window of other speech, and as many of those most like the phrase, learnt against."""


Stretches = NDArray[np.float32]
"""Embeddings in which a phrase is said, from a place before to a place after: stretches x (`SEEN` + 2) x
`DIMENSIONS`."""


def hours(costs: Frames) -> float:
    """Return how much speech these windows hold."""
    return len(costs) * seconds(WINDOW_FRAMES) / 3600


def learn(
    phrase: str, takes: Sequence[Sound], others: Looks, *, synthetic: Stretches | None = None, seed: int = 0
) -> Detector:
    """Learn to detect `phrase` from takes of it, against `others`.

    synthetic: the phrase in synthetic voices, learnt from too. Raises CompanionError when there are fewer
    than `FEWEST_TAKES` takes.
    """
    if len(takes) < FEWEST_TAKES:
        raise too_few(phrase, len(takes))
    rng = np.random.default_rng(seed)
    varied = hear(varied_windows(takes, -(-VARIANTS // len(takes)), rng))
    return teach(phrase, said_in(phrase, varied), others, rng, synthetic=synthetic)


def too_few(phrase: str, count: int) -> CompanionError:
    """Return what is said of too few takes in which the phrase can be heard."""
    return CompanionError(
        _(
            "There are only {count} takes of “{phrase}”; {fewest} are the fewest to learn from.",
            count=count,
            phrase=phrase,
            fewest=FEWEST_TAKES,
        ),
        safe=_("What was learnt before is as it was."),
        remedy=_("Record at least five, each with the whole phrase."),
    )


def said_in(phrase: str, varied: Looks) -> Stretches:
    """Return the stretches of variants in which the phrase is heard."""
    fit_there = fits(varied.costs, ways_to_say(phrase))[:, _SAID_FROM:]
    clear = fit_there.max(axis=1) > LEAST_FIT
    places = _SAID_FROM + fit_there.argmax(axis=1)[clear]
    return stretches_at(varied.embeddings[clear], places)


def stretches_at(embeddings: NDArray[np.float32], places: NDArray[np.int64]) -> Stretches:
    """Return the stretch around one place of each window (embeddings: windows x `PLACES` x `DIMENSIONS`)."""
    around = np.clip(places[:, np.newaxis] + np.arange(-SEEN, 2), 0, PLACES - 1)
    return np.asarray(embeddings[np.arange(len(places))[:, np.newaxis], around], np.float32)


def teach(
    phrase: str,
    said: Stretches,
    others: Looks,
    rng: np.random.Generator,
    *,
    synthetic: Stretches | None = None,
    dropped: Stretches | None = None,
) -> Detector:
    """Learn to detect `phrase` from stretches in which it is said, against other speech.

    dropped: what was taken for it and was none. The firing point is not set by them: they were picked for
    their high scores.

    The firing point is set on scores of speech that was not learnt from: each half is scored by what was
    learnt against the other half. What is returned was learnt against both.
    """
    chains = ways_to_say(phrase)
    near = fits(others.costs, chains)
    parts = [said] if synthetic is None else [said, synthetic]
    none: Stretches = np.zeros((0, SEEN + 2, DIMENSIONS), np.float32)
    taken = none if dropped is None else dropped
    # Two windows that follow each other may hold the same speech, and stay together.
    first = np.repeat(rng.random(len(near) // 2 + 1) < 0.5, 2)[: len(near)]
    unseen = []
    for half in (first, ~first):
        weights, bias = _classifier(parts, others.embeddings[~half], near[~half], taken, rng)
        judge = Detector(phrase, chains, weights, bias, fires_at=0.0, slope=1.0)
        unseen.append(highest(near[half], likenesses(judge, others.embeddings[half])))
    weights, bias = _classifier(parts, others.embeddings, near, taken, rng)
    detector = Detector(phrase, chains, weights, bias, fires_at=0.0, slope=1.0)
    calibrated = _calibrated(detector, np.concatenate(unseen), hours(others.costs) / _STRANGER_TALK)
    return replace(calibrated, slope=_STEEPER * calibrated.slope)


def untaught(phrase: str, costs: Frames) -> Detector:
    """Return a detector of `phrase` that knows no voice: by its pronunciations alone.

    Its firing point is set on `costs`, those of the bundled speech, like that of a detector that was learnt.
    """
    detector = Detector(phrase, ways_to_say(phrase), np.zeros(SEEN * DIMENSIONS), 0.0, 0.0, 1.0)
    near = fits(costs, detector.chains)
    unseen = highest(near, np.zeros_like(near))
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


def ways_after_cue(vocabulary: Vocabulary) -> dict[str, tuple[Chain, ...]]:
    """Return the ways to say each command that follows the cue; none where there is no cue."""
    return {phrase: ways_to_say(phrase) for phrase in vocabulary.phrases} if vocabulary.cue else {}


def bundled_others() -> Looks:
    """Return the speech that comes with the companion; `negatives.md` says whose it is.

    It takes 130 MB, so nobody keeps it through a lesson.
    """
    return Looks(bundled_costs(), bundled_embeddings())


def bundled_costs() -> Frames:
    """Return what the network hears in the bundled speech: windows x frames x classes."""
    return _bundled("costs")


def bundled_embeddings() -> NDArray[np.float32]:
    """Return the embeddings of the bundled speech: windows x `PLACES` x `DIMENSIONS`."""
    return _bundled("embeddings")


def _bundled(name: str) -> NDArray[np.float32]:
    path = resources.files("companion.listening.detection").joinpath("negatives.npz")
    with path.open("rb") as file, np.load(file) as stored:
        return np.asarray(stored[name] * stored[f"{name}_unit"], np.float32)


def hear_talk(talk: Sequence[Sound]) -> Looks | None:
    """Let the network hear longer recordings; None where there is nothing to hear."""
    windows = list(pieces(talk))
    return hear(np.stack(windows)) if windows else None


def other_speech(own: Looks | None) -> Looks:
    """Return what a phrase is told from: the bundled speech, and `own`, other talk of the same voice."""
    return together([bundled_others(), own]) if own else bundled_others()


def _classifier(
    said: Sequence[Stretches],
    embeddings: NDArray[np.float32],
    near: NDArray[np.float32],
    dropped: Stretches,
    rng: np.random.Generator,
) -> tuple[NDArray[np.float64], float]:
    """Learn to tell what is said from other speech, and return weights and bias.

    said: the teacher's own stretches, then synthetic ones, if any; each kind counts the same.
    near: how well the phonemes fit at each place of the other speech. dropped: more that is not the phrase.
    """
    alike = np.argsort(-near, axis=1)[:, :_VIEWS]
    anywhere = rng.integers(SEEN - 1, PLACES, (len(near), _VIEWS))
    kinds = [_seen(stretches) for stretches in said]
    unsaid = np.concatenate([views(embeddings, places) for places in (*alike.T, *anywhere.T)])
    taken = _seen(dropped)
    seen = np.concatenate((*kinds, unsaid, taken))
    said_rows = np.arange(len(seen)) < len(seen) - len(unsaid) - len(taken)
    counts = np.concatenate(
        (
            *(np.full(len(kind), 1 / len(kind)) for kind in kinds),
            np.ones(len(unsaid)),
            np.full(len(taken), DROPPED_COUNTS),
        )
    )
    mean, spread = seen.mean(axis=0), np.maximum(seen.std(axis=0), 1e-6)
    weights, bias = logistic_regression((seen - mean) / spread, said_rows, STRICTNESS, counts)
    weights /= spread
    return weights, float(bias - mean @ weights)


def _seen(stretches: Stretches) -> NDArray[np.float32]:
    """Return what the classifier sees of stretches: where the phrase ends, and a place before and after."""
    return np.concatenate(
        [stretches[:, by : by + SEEN].reshape(len(stretches), SEEN * DIMENSIONS) for by in range(3)]
    )


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
