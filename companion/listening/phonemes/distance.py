"""How alike two chains of phonemes sound.

Feature values and saliences are those of ALINE: G. Kondrak, "A new algorithm for the alignment of phonetic
sequences", NAACL 2000, tables 3 to 5, applied to the ARPAbet phonemes of American English. Diphthongs stand
for their first half, with the rounding or the height of the second left to the length.
"""

from functools import cache
from typing import NamedTuple

from companion.listening.phonemes.pronunciation import Phonemes

GAP = 0.5
"""Cost of a phoneme without a partner. A substitution costs between 0 and 1."""

_FARTHEST = 40.0
"""ALINE difference that counts as wholly different (a stop against a fricative of another place is 34)."""


class _Consonant(NamedTuple):
    place: float
    manner: float
    voice: float = 0.0
    nasal: float = 0.0
    lateral: float = 0.0
    retroflex: float = 0.0


class _Vowel(NamedTuple):
    high: float
    back: float
    round: float = 0.0
    long: float = 0.0
    retroflex: float = 0.0


_CONSONANT_SALIENCE = _Consonant(place=40, manner=50, voice=10, nasal=10, lateral=10, retroflex=10)
_VOWEL_SALIENCE = _Vowel(high=5, back=5, round=5, long=1, retroflex=10)
_VOWEL_STRETCH = 4.0
"""ALINE weighs vowels low, since they change fast through history; in one speaker's words they carry more."""

_PHONEMES: dict[str, _Consonant | _Vowel] = {
    "P": _Consonant(1.0, 1.0), "B": _Consonant(1.0, 1.0, 1), "T": _Consonant(0.85, 1.0),
    "D": _Consonant(0.85, 1.0, 1), "K": _Consonant(0.6, 1.0), "G": _Consonant(0.6, 1.0, 1),
    "CH": _Consonant(0.75, 0.9), "JH": _Consonant(0.75, 0.9, 1), "F": _Consonant(0.95, 0.8),
    "V": _Consonant(0.95, 0.8, 1), "TH": _Consonant(0.9, 0.8), "DH": _Consonant(0.9, 0.8, 1),
    "S": _Consonant(0.85, 0.8), "Z": _Consonant(0.85, 0.8, 1), "SH": _Consonant(0.75, 0.8),
    "ZH": _Consonant(0.75, 0.8, 1), "HH": _Consonant(0.1, 0.8), "M": _Consonant(1.0, 1.0, 1, nasal=1),
    "N": _Consonant(0.85, 1.0, 1, nasal=1), "NG": _Consonant(0.6, 1.0, 1, nasal=1),
    "L": _Consonant(0.85, 0.6, 1, lateral=1), "R": _Consonant(0.8, 0.6, 1, retroflex=1),
    "W": _Consonant(0.8, 0.6, 1), "Y": _Consonant(0.7, 0.6, 1),
    "IY": _Vowel(1.0, 1.0, long=1), "IH": _Vowel(0.9, 0.9), "EY": _Vowel(0.6, 1.0, long=1),
    "EH": _Vowel(0.5, 1.0), "AE": _Vowel(0.1, 1.0), "AA": _Vowel(0.0, 0.1, long=1), "AH": _Vowel(0.4, 0.5),
    "AO": _Vowel(0.3, 0.0, 1, long=1), "OW": _Vowel(0.5, 0.0, 1, long=1), "UH": _Vowel(0.9, 0.1, 1),
    "UW": _Vowel(1.0, 0.0, 1, long=1), "ER": _Vowel(0.5, 0.5, retroflex=1), "AY": _Vowel(0.1, 0.4, long=1),
    "AW": _Vowel(0.1, 0.4, 1, long=1), "OY": _Vowel(0.4, 0.1, 1, long=1),
}  # fmt: skip

PHONEMES = tuple(_PHONEMES)
"""The ARPAbet phonemes of American English."""


def distance(one: Phonemes, other: Phonemes) -> float:
    """Return the least cost of turning one chain into the other, divided by the longer one's length.

    0 is the same chain; unrelated phrases lie above about 0.35. Symmetric.
    """
    return edit_cost(one, other) / max(len(one), len(other), 1)


def edit_cost(one: Phonemes, other: Phonemes) -> float:
    """Return the least cost of turning one chain into the other, in phonemes."""
    row = [GAP * column for column in range(len(other) + 1)]
    for phoneme in one:
        before, row = row, [row[0] + GAP]
        for column, partner in enumerate(other):
            row.append(
                min(
                    before[column] + substitution_cost(phoneme, partner),
                    before[column + 1] + GAP,
                    row[column] + GAP,
                )
            )
    return row[-1]


@cache
def substitution_cost(one: str, other: str) -> float:
    """Return how different two phonemes are: 0 the same, 1 nothing in common."""
    left, right = _PHONEMES[one], _PHONEMES[other]
    if isinstance(left, _Vowel) and isinstance(right, _Vowel):
        pairs = zip(left, right, _VOWEL_SALIENCE, strict=True)
        return min(1.0, sum(abs(a - b) * weight for a, b, weight in pairs) * _VOWEL_STRETCH / _FARTHEST)
    if isinstance(left, _Consonant) and isinstance(right, _Consonant):
        pairs = zip(left, right, _CONSONANT_SALIENCE, strict=True)
        return min(1.0, sum(abs(a - b) * weight for a, b, weight in pairs) / _FARTHEST)
    return 1.0
