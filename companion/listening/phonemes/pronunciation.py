"""How words are said: by the dictionary first, then as a compound, then letter by letter."""

import gzip
import re
from functools import cache
from pathlib import Path

from companion.errors import CompanionError
from companion.language import _

Phonemes = tuple[str, ...]
"""ARPAbet symbols without stress, as in the CMU Pronouncing Dictionary: ("V", "EH", "L", "V", "AH", "T")."""

_DICTIONARY = Path(__file__).parent / "english.dict.gz"

_NUMBERS = (
    "zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
    "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen", "twenty",
)  # fmt: skip

_FROM_IPA = {
    "i": ("IY",), "ɪ": ("IH",), "e": ("EY",), "eɪ": ("EY",), "ɛ": ("EH",), "æ": ("AE",), "a": ("AA",),
    "ɑ": ("AA",), "ɒ": ("AA",), "ɔ": ("AO",), "o": ("OW",), "oʊ": ("OW",), "ʊ": ("UH",), "u": ("UW",),
    "ʌ": ("AH",), "ə": ("AH",), "ɐ": ("AH",), "ɝ": ("ER",), "ɚ": ("ER",), "ɜ": ("ER",), "aɪ": ("AY",),
    "aʊ": ("AW",), "ɔɪ": ("OY",), "p": ("P",), "b": ("B",), "t": ("T",), "ɾ": ("T",), "d": ("D",),
    "k": ("K",), "g": ("G",), "ɡ": ("G",), "f": ("F",), "v": ("V",), "θ": ("TH",), "ð": ("DH",),
    "s": ("S",), "z": ("Z",), "ʃ": ("SH",), "ʒ": ("ZH",), "h": ("HH",), "x": ("K",), "tʃ": ("CH",),
    "dʒ": ("JH",), "m": ("M",), "n": ("N",), "ŋ": ("NG",), "l": ("L",), "ɫ": ("L",), "r": ("R",),
    "ɹ": ("R",), "j": ("Y",), "w": ("W",), "ju": ("Y", "UW"),
}  # fmt: skip
"""The phonemes of General American English as the CMU dictionary writes them."""

_SHORTEST_PART = 3


def words(text: str) -> tuple[str, ...]:
    """Split a phrase, a phase or a class group's name into lower-case words; small numbers become words.

    >>> words("4-Hazel")
    ('four', 'hazel')
    """
    return tuple(
        _NUMBERS[int(word)] if word.isdecimal() and int(word) < len(_NUMBERS) else word
        for word in re.findall(r"[^\W\d_]+(?:'[^\W\d_]+)*|\d+", text.lower().replace("’", "'"))
    )


def pronunciations(word: str) -> tuple[Phonemes, ...]:
    """Return every way of saying the word, the most usual first.

    Raises CompanionError, naming the word, when nobody knows how to say it.
    """
    known = from_dictionary(word) or _from_compound(word) or _from_letters(word)
    if not known:
        raise CompanionError(
            _("The dictionary does not know how to say “{word}”.", word=word),
            remedy=_("Write it as it sounds, in usual English words, or choose another word."),
        )
    return known


def phonemes(text: str) -> Phonemes:
    """Return the phonemes of a whole phrase, each word in its most usual form.

    Raises CompanionError for a word that cannot be said and for a phrase without words.
    """
    said = words(text)
    if not said:
        raise CompanionError(_("“{text}” holds no words.", text=text), remedy=_("Write the phrase in words."))
    return tuple(phoneme for word in said for phoneme in pronunciations(word)[0])


@cache
def from_dictionary(word: str) -> tuple[Phonemes, ...]:
    """Return the ways of saying a word that stand in the dictionary, or ()."""
    text = dictionary()
    line = text.find(f"\n{word} ") + 1
    ways = []
    while line and text.startswith((f"{word} ", f"{word}("), line):
        # Other ways of saying it, “word(2)”, stand right below.
        end = text.index("\n", line)
        ways.append(tuple(text[text.index(" ", line) : end].split()))
        line = end + 1
    return tuple(ways)


def _from_compound(word: str) -> tuple[Phonemes, ...]:
    """Say “snowboy” as “snow” and “boy”: the split whose shorter part is longest."""
    splits = range(_SHORTEST_PART, len(word) - _SHORTEST_PART + 1)
    for at in sorted(splits, key=lambda at: abs(2 * at - len(word))):
        parts = from_dictionary(word[:at]), from_dictionary(word[at:])
        if all(parts):
            return (parts[0][0] + parts[1][0],)
    return ()


@cache
def _from_letters(word: str) -> tuple[Phonemes, ...]:
    try:
        from hama import G2PModel  # noqa: PLC0415 (absent on Windows; loads its model, so only where needed)
    except (ImportError, OSError):
        return ()
    said = G2PModel().predict(word).ipa
    return (_arpabet(said),) if said and word.isascii() and word.isalpha() else ()


def _arpabet(ipa: str) -> Phonemes:
    letters = re.sub("[\u0361ː ˈˌ]", "", ipa)
    found: list[str] = []
    while letters:
        length = 2 if letters[:2] in _FROM_IPA else 1
        found += _FROM_IPA.get(letters[:length], ())
        letters = letters[length:]
    return tuple(found)


@cache
def dictionary() -> str:
    """Return the CMU Pronouncing Dictionary, a line for each way of saying a word."""
    return "\n" + gzip.decompress(_DICTIONARY.read_bytes()).decode()
