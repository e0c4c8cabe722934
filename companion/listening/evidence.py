"""Weighs what can be known about a stretch of sound into one calibrated probability."""

import math
from dataclasses import dataclass

from companion.listening.acoustics import (
    FRAME_SAMPLES,
    AlignedPhoneme,
    Aligner,
    FreePhonemes,
    FreeWords,
)
from companion.listening.command_choice import Weight
from companion.listening.microphone.gate import level_db
from companion.listening.phonemes.distance import distance
from companion.listening.phonemes.pronunciation import Phonemes, phonemes, pronunciations
from companion.listening.sound import Sound

_EDGE = 15 * FRAME_SAMPLES
"""Sound around a phrase that the alignment is given, to find its exact edges."""

_MOST_MARGIN = 5.0

_TYPICAL_FRAMES = 8.5
"""Frames (10 ms) a phoneme in unhurried classroom speech."""


@dataclass(frozen=True, slots=True)
class Find:
    """Where a phrase may have been said. Times are sample numbers."""

    phrase: str
    begin: int
    end: int
    search: float
    """Score of the key phrase search, nats a frame."""
    command: Weight | None = None
    """How clear the command is, where there is a cue."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """What speaks for and against one candidate. Scores are nats a frame (10 ms) unless said otherwise."""

    search: float
    """Score of the key phrase search against a free chain of phonemes."""
    margin: float
    """How much better than the next best command; 0 without a cue."""
    command: float
    """How much better the command fits than a free chain of phonemes; 0 without a cue."""
    fit: float
    """Mean over the phonemes of how well each fits its place; 0 is perfect."""
    worst: float
    """Mean of the two worst phonemes' fit."""
    against_free: float
    """Fit of the phrase less the fit of a free chain of phonemes over the same frames."""
    free_distance: float
    """Phonetic distance from the phrase to the free chain of phonemes, 0 to 1."""
    words_distance: float
    """Phonetic distance from the phrase to what the full vocabulary understood, 0 to 1."""
    pace: float
    """How far from an unhurried pace: the absolute logarithm of the ratio."""
    uneven: float
    """Spread of the phonemes' durations (standard deviation of their logarithms)."""
    loudness: float
    """Level of the phrase above the sound just before it, dB."""
    size: float
    """Number of phonemes in the phrase."""


class Examiner:
    """Looks closely at one candidate's sound. Costs about half the sound's own duration on one core."""

    def __init__(self) -> None:
        self._aligner = Aligner()
        self._free_phonemes = FreePhonemes()
        self._free_words = FreeWords()

    def examine(self, find: Find, spoken: str, sound: Sound, sound_begin: int) -> Evidence:
        """Return the evidence for a find of the whole form `spoken`, in sound that surrounds it."""
        said = phonemes(spoken)
        begin = max(0, find.begin - sound_begin - _EDGE)
        close = sound[begin : find.end - sound_begin + _EDGE]
        aligned = self._aligner.align(close, spoken)
        fits = sorted(phoneme.score for phoneme in aligned) or [-9.0]
        fit = sum(fits) / len(fits)
        free = self._free_phonemes.hear(close)
        first, last = _span(aligned, len(close) // FRAME_SAMPLES)
        inside = [
            phoneme for phoneme in free if first - 3 <= phoneme.begin_frame + phoneme.frames / 2 <= last + 3
        ]
        durations = [math.log(phoneme.frames) for phoneme in aligned] or [0.0]
        frames = max(1, (find.end - find.begin) // FRAME_SAMPLES)
        mean = sum(durations) / len(durations)
        return Evidence(
            search=find.search,
            margin=min(_MOST_MARGIN, find.command.than_next / frames) if find.command else 0.0,
            command=find.command.than_free / frames if find.command else 0.0,
            fit=fit,
            worst=sum(fits[:2]) / len(fits[:2]),
            against_free=_mean_a_frame(aligned) - _mean_a_frame(inside),
            free_distance=distance(said, _speech(inside)),
            words_distance=_nearest(said, self._understood(sound)),
            pace=abs(math.log(max(1, last - first) / (_TYPICAL_FRAMES * len(said)))),
            uneven=math.sqrt(sum((value - mean) ** 2 for value in durations) / len(durations)),
            loudness=level_db(close) - level_db(sound[:begin]) if begin else 0.0,
            size=float(len(said)),
        )

    def _understood(self, sound: Sound) -> Phonemes:
        return tuple(phoneme for word in self._free_words.hear(sound) for phoneme in pronunciations(word)[0])


def _span(aligned: list[AlignedPhoneme], frames: int) -> tuple[int, int]:
    if not aligned:
        return 0, frames
    return aligned[0].begin_frame, aligned[-1].begin_frame + aligned[-1].frames


def _mean_a_frame(chain: list[AlignedPhoneme]) -> float:
    frames = sum(phoneme.frames for phoneme in chain)
    return sum(phoneme.score * phoneme.frames for phoneme in chain) / frames if frames else -9.0


def _speech(chain: list[AlignedPhoneme]) -> Phonemes:
    return tuple(phoneme.name for phoneme in chain if phoneme.name.isalpha() and phoneme.name != "SIL")


def _nearest(said: Phonemes, heard: Phonemes) -> float:
    """Return the distance from the phrase to the stretch of what was heard that is most like it."""
    spans = [heard[at : at + len(said)] for at in range(max(1, len(heard) - len(said) + 1))]
    return min(distance(said, span) for span in spans)


def probability(evidence: Evidence) -> float:
    """Return the probability that the phrase was said.

    The weights are set by hand; `fitting/fit_dictionary_engine.py` fits them, but what it fits fires more
    often on other talk, so that a firing point of its own is needed before it takes their place.
    """
    log_odds = 2 + 1.5 * evidence.search + 1.5 * evidence.against_free - 12 * (evidence.words_distance - 0.25)
    if evidence.command or evidence.margin:
        log_odds += 4 * min(0.0, evidence.command + 0.3) + min(1.5, 3 * evidence.margin) - 1
    return 1 / (1 + math.exp(-max(-50.0, min(50.0, log_odds))))


def reasons(evidence: Evidence) -> tuple[str, ...]:
    """Say in plain words what spoke for the phrase and what against it."""
    found = []
    if evidence.words_distance < 0.15:
        found.append("the full vocabulary understood the same")
    elif evidence.words_distance > 0.35:
        found.append("the full vocabulary understood something else")
    if evidence.against_free < -1.5 or evidence.search < -1.5:
        found.append("the sounds fit poorly")
    if evidence.command < -0.6:
        found.append("no command fits well after the cue")
    elif 0 < evidence.margin < 0.2:
        found.append("another command fits nearly as well")
    if evidence.loudness < 0:
        found.append("no pause before it")
    return tuple(found)
