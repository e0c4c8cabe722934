"""The second opinion on a match of the grammar, which alone maps any sound to some phrase.

The stretch of sound is decoded again twice: by the grammar, for the margin between the phrase and the next
best reading, and by the whole language model, for how much better free speech explains the sound and how
near its words come to the phrase. A logistic function of these gives one probability.
"""

import json
import math
import operator
import unicodedata
from dataclasses import dataclass
from typing import Any

import numpy as np

from companion.listening.sound import SAMPLE_RATE, Sound
from companion.listening.vosk.grammar import Grammar, Match
from companion.listening.vosk.model import VoskModel

_GRAMMAR_READINGS = 6
_FREE_READINGS = 4
_MARGIN_RANGE = (-3.0, 6.0)
"""Log likelihood, clipped: 6 when there is no other reading, -3 when the phrase is not among the readings."""
_RATIO_RANGE = (-40.0, 10.0)

FEATURES = ("ratio / 10", "margin / 3", "likeness", "posterior")
_BIAS = -1.26
_WEIGHTS = (2.0, 0.83, 2.0, 4.4)
"""A logistic function over `FEATURES`, fitted with synthetic Korean speech against talk, babble and English
(`python -m tests.listening.measure_vosk --fit`; `models/README.md` says what that does and doesn't prove)."""


@dataclass(frozen=True, slots=True)
class Opinion:
    """What a second hearing found out about a match."""

    ratio: float
    """Log likelihood of the phrase less that of free speech, a second of sound."""
    margin: float
    """Log likelihood of the phrase less that of the grammar's best other reading."""
    likeness: float
    """How near the free reading's letters come to the phrase's, 0 to 1."""
    posterior: float
    """The first hearing's own confidence."""
    free_text: str
    """What the whole language model understood."""


class SecondHearing:
    """Decodes stretches of sound again; its recognisers stay warm: a cold one is ten times slower."""

    def __init__(self, model: VoskModel, grammar: Grammar) -> None:
        self._grammar = model.recogniser(grammar.lines)
        self._grammar.SetMaxAlternatives(_GRAMMAR_READINGS)
        self._free = model.recogniser()
        self._free.SetMaxAlternatives(_FREE_READINGS)
        self._warm_up()

    def __call__(self, match: Match, sound: Sound) -> tuple[float, tuple[str, ...]]:
        """Return the probability of `match` and the reasons for it in plain words."""
        opinion = self.opinion(match, sound)
        return probability(opinion), reasons(opinion)

    def opinion(self, match: Match, sound: Sound) -> Opinion:
        """Return the opinion on `match`; `sound` is its stretch with a little before and after."""
        readings = _decode(self._grammar, sound)
        free = _decode(self._free, sound)
        phrase = " ".join(match.spoken)
        own = max((likelihood for text, likelihood in readings if text == phrase), default=None)
        others = max((likelihood for text, likelihood in readings if text != phrase), default=None)
        reached = own if own is not None else (others or 0.0) + _MARGIN_RANGE[0]
        seconds = max(match.end - match.begin, 1) / SAMPLE_RATE
        return Opinion(
            ratio=(reached - free[0][1]) / seconds if free else _RATIO_RANGE[0],
            margin=_margin(own, others),
            likeness=max((likeness(phrase, text) for text, _ in free), default=0.0),
            posterior=match.posterior,
            free_text=free[0][0] if free else "",
        )

    def _warm_up(self) -> None:
        noise = np.random.default_rng(1).normal(0, 800, SAMPLE_RATE // 2).astype(np.int16)
        _decode(self._free, noise)


def probability(opinion: Opinion) -> float:
    """Return the probability that the phrase was said."""
    score = _BIAS + sum(map(operator.mul, _WEIGHTS, features(opinion)))
    return 1 / (1 + math.exp(-score))


def features(opinion: Opinion) -> tuple[float, ...]:
    """Return what the probability is made of, in the order of `FEATURES`."""
    least, most = _RATIO_RANGE
    ratio = min(max(opinion.ratio, least), most)
    return ratio / 10, opinion.margin / 3, opinion.likeness, opinion.posterior


def reasons(opinion: Opinion) -> tuple[str, ...]:
    """Return what speaks for and against the phrase in plain words."""
    if abs(opinion.ratio) < 1:
        compared = "as well as free speech"
    else:
        compared = f"{'better' if opinion.ratio > 0 else 'worse'} than free speech ({opinion.ratio:+.0f})"
    return (
        f"free speech was understood as “{opinion.free_text}”, {opinion.likeness:.0%} alike",
        f"the phrase explains the sound {compared}",
        "no other phrase came near" if opinion.margin >= 1 else "another reading came near",
    )


def likeness(phrase: str, heard: str) -> float:
    """Return 1 less the edit distance of the letters (Hangul by its parts) over the longer one's length."""
    one, other = _letters(phrase), _letters(heard)
    longer = max(len(one), len(other))
    return 1 - _edit_distance(one, other) / longer if longer else 0.0


def _margin(own: float | None, others: float | None) -> float:
    least, most = _MARGIN_RANGE
    if own is None:
        return least
    return most if others is None else min(max(own - others, least), most)


def _decode(recogniser: Any, sound: Sound) -> list[tuple[str, float]]:  # noqa: ANN401 - the package has no types
    recogniser.AcceptWaveform(sound.tobytes())
    readings = json.loads(recogniser.FinalResult()).get("alternatives", [])
    recogniser.Reset()
    return [(reading["text"].strip(), reading["confidence"]) for reading in readings]


def _letters(text: str) -> str:
    return "".join(unicodedata.normalize("NFD", text.lower()).split())


def _edit_distance(one: str, other: str) -> int:
    row = list(range(len(other) + 1))
    for count, letter in enumerate(one, 1):
        last, row[0] = row[0], count
        for at, against in enumerate(other, 1):
            last, row[at] = row[at], min(row[at] + 1, row[at - 1] + 1, last + (letter != against))
    return row[-1]
