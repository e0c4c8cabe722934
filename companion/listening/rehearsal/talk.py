"""How often words are said in ordinary talk, one after the other, by counts that come with the program."""

import gzip
from functools import cache
from pathlib import Path

from companion.listening.phonemes.pronunciation import words

WORDS_AN_HOUR = 7_000
"""Words a teacher says in an hour of lesson: about 120 a minute in running talk (inferred)."""

_NEVER_COUNTED = 8.0
"""What a word counts for that was never counted: rarer than any that was."""

USUAL = 6_000
"""Words that are usual: those that are said most."""
_SHORTEST = 3


def hours_apart(text: str) -> float:
    """Return the hours of talk between two chance uses of these words, one after the other.

    A word's chance is the one after the word before it where the two hang together, else its own.
    """
    chances, said = _chances(), words(text)
    rarity = 0.0
    for before, word in zip(("", *said), said, strict=False):
        alone = chances.get(word, _NEVER_COUNTED)
        rarity += chances.get(f"{before} {word}", alone)
    return 10**rarity / WORDS_AN_HOUR


@cache
def _chances() -> dict[str, float]:
    """Return the negative logarithm (base 10) of the chance of each word, and of pairs that hang together."""
    text = gzip.decompress((Path(__file__).parent / "talk.txt.gz").read_bytes()).decode()
    counted = (line.rpartition(" ") for line in text.splitlines())
    return {said: int(hundredths) / 100 for said, _, hundredths in counted}


@cache
def usual_words() -> frozenset[str]:
    """Return the words of three letters and more that are said most often."""
    single = [said for said in _chances() if said.isalpha() and len(said) >= _SHORTEST]
    return frozenset(sorted(single, key=_chances().__getitem__)[:USUAL])
