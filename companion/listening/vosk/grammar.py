"""The phrases of a lesson as a grammar for Vosk, and the exact search for them in what it heard."""

import math
import unicodedata
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from companion.errors import CompanionError
from companion.language import _
from companion.lesson.vocabulary import Vocabulary
from companion.listening.vosk.model import VoskModel


@dataclass(frozen=True, slots=True)
class Word:
    """A word as Vosk heard it; times in samples of the sound that the spotter was given."""

    text: str
    begin: int
    end: int


@dataclass(frozen=True, slots=True)
class Reading:
    """One of the ways in which Vosk understood a stretch of sound."""

    words: Sequence[Word]
    likelihood: float
    """Logarithm, comparable among the readings of the same stretch only."""


@dataclass(frozen=True, slots=True)
class Match:
    """A whole spoken form in what was heard, word by word."""

    phrase: str
    """As the vocabulary has it."""
    spoken: tuple[str, ...]
    begin: int
    end: int
    posterior: float = 1.0
    """Share of the grammar's own readings that hold it there: a wrong phrase often has 1.0."""

    def is_same(self, other: "Match") -> bool:
        """Say whether the other is the same phrase in much the same place."""
        return self.phrase == other.phrase and self.overlaps(other)

    def overlaps(self, other: "Match") -> bool:
        """Say whether a sound belongs to both."""
        return self.begin < other.end and other.begin < self.end


class Grammar:
    """What Vosk is told to listen for, and which phrase each sequence of words is.

    Vosk trains a bigram over the words, so words recombine across phrases: only an exact match of a whole
    spoken form counts. The model's unknown word and the cue with an unknown word after it are in the
    grammar as decoys.
    Raises CompanionError naming every word that the model doesn't know: Vosk would drop it in silence.
    """

    def __init__(self, vocabulary: Vocabulary, model: VoskModel) -> None:
        self._phrases = {split_words(vocabulary.spoken(phrase)): phrase for phrase in vocabulary.phrases}
        require_words(vocabulary, model.path, model.knows)
        self._lengths = sorted({len(spoken) for spoken in self._phrases}, reverse=True)
        self._beginnings = {spoken[:end] for spoken in self._phrases for end in range(1, len(spoken))}
        decoys = [model.unknown] if model.unknown else []
        if model.unknown and vocabulary.cue:
            decoys.append(" ".join((*split_words(vocabulary.cue), model.unknown)))
        self.lines = [" ".join(spoken) for spoken in self._phrases] + decoys
        """The grammar as Vosk takes it."""

    def holds(self, words: list[str]) -> bool:
        """Say whether a whole spoken form is in `words` that no further word could turn into a longer one."""
        return any(self._is_closed(words, at, length) for at in range(len(words)) for length in self._lengths)

    def likely_matches(self, readings: Sequence[Reading]) -> list[Match]:
        """Return the spoken forms in any of the readings, in order; the likeliest wins, and none overlap.

        The best reading alone would not do: a word that is squeezed in between, as likely as not, hides
        the phrase from the exact search.
        """
        shares = _shares(readings)
        by_reading = [self.matches(reading.words) for reading in readings]
        found = [
            replace(match, posterior=_share_with(match, by_reading, shares))
            for matches in by_reading
            for match in matches
        ]
        chosen: list[Match] = []
        for match in sorted(found, key=lambda match: match.posterior, reverse=True):
            if not any(match.overlaps(other) for other in chosen):
                chosen.append(match)
        return sorted(chosen, key=lambda match: match.begin)

    def matches(self, words: Sequence[Word]) -> list[Match]:
        """Return the spoken forms in `words`, in order; the longest wins, and none overlap."""
        found: list[Match] = []
        at = 0
        while at < len(words):
            match = self._match_at(words, at)
            if match:
                found.append(match)
            at += len(match.spoken) if match else 1
        return found

    def _is_closed(self, words: list[str], at: int, length: int) -> bool:
        spoken = tuple(words[at : at + length])
        may_go_on = at + length >= len(words) and spoken in self._beginnings
        return spoken in self._phrases and not may_go_on

    def _match_at(self, words: Sequence[Word], at: int) -> Match | None:
        for length in self._lengths:
            part = words[at : at + length]
            spoken = tuple(word.text for word in part)
            if spoken in self._phrases:
                return Match(
                    phrase=self._phrases[spoken],
                    spoken=spoken,
                    begin=part[0].begin,
                    end=part[-1].end,
                )
        return None


def require_words(vocabulary: Vocabulary, model: Path, knows: Callable[[str], bool]) -> None:
    """Raise CompanionError naming every word of the spoken forms that the model doesn't know."""
    spoken = [split_words(vocabulary.spoken(phrase)) for phrase in vocabulary.phrases]
    unknown = sorted({word for words in spoken for word in words if not knows(word)})
    if unknown:
        raise CompanionError(
            _(
                "The speech model in {model} doesn't know {words}.",
                model=model,
                words=", ".join(f"“{word}”" for word in unknown),
            ),
            remedy=_("Say it with other words, or write numbers and short forms out."),
        )


def split_words(spoken: str) -> tuple[str, ...]:
    """Return the words of a spoken form as models write them: composed, lower case, no punctuation."""
    plain = unicodedata.normalize("NFC", spoken).lower()
    return tuple(word for part in plain.split() if (word := part.strip('.,;:!?¡¿…"“”„()')))


def _shares(readings: Sequence[Reading]) -> list[float]:
    most = max((reading.likelihood for reading in readings), default=0.0)
    weights = [math.exp(reading.likelihood - most) for reading in readings]
    return [weight / sum(weights) for weight in weights]


def _share_with(match: Match, by_reading: Sequence[Sequence[Match]], shares: Sequence[float]) -> float:
    pairs = zip(by_reading, shares, strict=True)
    return sum(share for matches, share in pairs if any(match.is_same(other) for other in matches))
