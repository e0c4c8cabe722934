"""What is nearly a phrase but is none: the phrase with another usual word in place of one of its own."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from companion.listening.phonemes.distance import GAP, PHONEMES, substitution_cost
from companion.listening.phonemes.pronunciation import Phonemes, dictionary, pronunciations, words
from companion.listening.rehearsal.talk import hours_apart, usual_words

ALIKE = 0.8
"""Phonemes' worth by which a word may differ from the one that it stands for."""
NEAREST = 6
"""Words that may stand for each word of a phrase."""
TOLD = 3
LONGEST = 12
"""Phonemes of the longest word that is looked at."""


@dataclass(frozen=True, slots=True)
class NearSentence:
    """Other words that sound nearly like a phrase."""

    text: str
    difference: float
    """Phonemes' worth between them and the phrase."""


def near_sentences(phrase: str) -> tuple[NearSentence, ...]:
    """Return other words that sound nearly like `phrase`: those that are said most, at most `TOLD`.

    Raises CompanionError for a word that nobody knows how to say.
    """
    parts = words(phrase)
    found = [
        NearSentence(" ".join((*parts[:at], other, *parts[at + 1 :])), difference)
        for at, word in enumerate(parts)
        for other, difference in _near_words(word)
    ]
    return tuple(sorted(found, key=lambda near: hours_apart(near.text))[:TOLD])


@cache
def _near_words(word: str) -> tuple[tuple[str, float], ...]:
    """Return the usual words that sound most like `word`, but not just as it does, and how far they are."""
    texts, chains, padded, lengths = _usual()
    ways = pronunciations(word)
    costs = _edit_costs(ways[0], padded, lengths)
    order = np.argsort(costs, kind="stable")[: NEAREST + len(ways)]
    near = [at for at in order if costs[at] <= ALIKE and chains[at] not in ways]
    return tuple((texts[at], float(costs[at])) for at in near[:NEAREST])


@cache
def _usual() -> tuple[Sequence[str], Sequence[Phonemes], NDArray[np.int64], NDArray[np.int64]]:
    """Return the usual words, how they are said, and that as padded classes with their lengths."""
    usual = usual_words()
    said = {}
    for line in dictionary().splitlines():
        text, _, rest = line.partition(" ")
        if text in usual and len(chain := tuple(rest.split())) <= LONGEST:
            said[text] = chain
    padded = np.zeros((len(said), LONGEST), np.int64)
    for row, chain in enumerate(said.values()):
        padded[row, : len(chain)] = [PHONEMES.index(phoneme) for phoneme in chain]
    return tuple(said), tuple(said.values()), padded, np.array([len(chain) for chain in said.values()])


@cache
def _substitutions() -> NDArray[np.float64]:
    return np.array([[substitution_cost(one, other) for other in PHONEMES] for one in PHONEMES])


def _edit_costs(one: Phonemes, padded: NDArray[np.int64], lengths: NDArray[np.int64]) -> NDArray[np.float64]:
    """Return `distance.edit_cost` between one chain and each of many."""
    row = np.tile(GAP * np.arange(LONGEST + 1), (len(padded), 1))
    for phoneme in one:
        costs = _substitutions()[PHONEMES.index(phoneme)][padded]
        before, row = row, np.empty_like(row)
        row[:, 0] = before[:, 0] + GAP
        for column in range(LONGEST):
            row[:, column + 1] = np.minimum(
                before[:, column] + costs[:, column], np.minimum(before[:, column + 1], row[:, column]) + GAP
            )
    return np.asarray(row[np.arange(len(row)), lengths], np.float64)
