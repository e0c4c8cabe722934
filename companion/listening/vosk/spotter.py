"""The Vosk engine: a runtime grammar hears the phrases, and a second hearing decides what to believe."""

import json
from collections import Counter
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from companion.errors import CompanionError
from companion.language import _
from companion.lesson.vocabulary import Vocabulary
from companion.listening.candidate import Candidate
from companion.listening.microphone.gate import Speech, SpeechGate
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.listening.spotter import Spotter
from companion.listening.voice.check import VoiceCheck
from companion.listening.voice.enrolled_engine import learnt_speaker
from companion.listening.vosk.grammar import Grammar, Match, Reading, Word, require_words
from companion.listening.vosk.model import VoskModel, load_model
from companion.listening.vosk.opinion import SecondHearing
from companion.models.layout import check_layout, require_dynamic
from companion.models.places import default_models, model_for
from companion.models.probe import require_vosk
from companion.models.words import knows_word

if TYPE_CHECKING:
    from companion.listening.engines import Voice

FIRING_POINT = 0.5
NEAR_MISS_POINT = 0.1
"""Probabilities: from the first a mark, from the second a near miss, below it nothing at all."""

_STEP = SAMPLE_RATE // 10
"""Sound that the recogniser is given at a time."""
_READINGS = 10
"""Ways to understand a stretch of sound in which a match is looked for."""
_STEADY_READINGS = 3
"""A match inside running speech is decided when so many readings in a row had it."""
_MOST_RENEWALS = 2
"""How often it may be made to decide at one place: what the overlap holds is heard again each time."""
_AROUND = int(0.2 * SAMPLE_RATE)
"""Sound before and after a match that the second hearing is given."""
_LETTER_S = (0.025, 0.30)
"""A spoken letter takes at least and at most so long; an alignment outside is no speech of this phrase."""
_REFRACTORY = int(0.5 * SAMPLE_RATE)
"""Nothing that begins so soon after a fired phrase ended is another one."""
_RENEW_AFTER = 15 * SAMPLE_RATE
_OVERLAP = 3 * SAMPLE_RATE
"""In speech without a pause the recogniser is renewed (its memory grows until a pause), and hears the last
seconds again."""
_HANG_OVER_MS = 400
_NOISE: Sound = np.rint(np.random.default_rng(1).normal(0, 10, 10 * SAMPLE_RATE)).astype(np.int16)
"""Added to what the recognisers hear, by its place in the sound, at -70 dBFS: no louder than a microphone's
own. Vosk adds noise of one unit that is never the same; where a microphone's filter leaves nothing between
the words, that alone decided what was heard, and the same recording gave other marks the next time."""

Weighing = Callable[[Match, Sound], tuple[float, tuple[str, ...]]]
"""Gives the probability of a match, and the reasons in plain words."""


def require(vocabulary: Vocabulary, voice: "Voice") -> None:
    """Raise CompanionError unless Vosk and a model that knows every word are on this machine.

    The model is not loaded for it.
    """
    require_vosk()
    model = _folder_for(vocabulary, voice)
    require_dynamic(check_layout(model))
    require_words(vocabulary, model, partial(knows_word, model))


def open_spotter(vocabulary: Vocabulary, voice: "Voice") -> Spotter:
    """Load the model of the vocabulary's language and open a spotter on it.

    Where the teacher's voice was learnt for these phrases, no other voice makes a mark.
    Raises CompanionError when there is no such model, or when it can't be loaded or lacks a word.
    """
    spotter = VoskSpotter(vocabulary, model_of(vocabulary, voice))
    speaker = learnt_speaker(vocabulary, voice)
    return VoiceCheck(spotter, speaker) if speaker else spotter


def model_of(vocabulary: Vocabulary, voice: "Voice") -> VoskModel:
    """Return the loaded model of the vocabulary's language.

    Raises CompanionError when there is no such model, or when it can't be loaded.
    """
    return load_model(_folder_for(vocabulary, voice), _models(voice) / ".receipts" / "proven.json")


def _folder_for(vocabulary: Vocabulary, voice: "Voice") -> Path:
    found = model_for(vocabulary.language, _models(voice))
    if found is None:
        raise CompanionError(
            _(
                "There is no speech model for the language “{language}” on this machine.",
                language=vocabulary.language,
            ),
            remedy=_("See `companion models list`."),
        )
    return found.path


def _models(voice: "Voice") -> Path:
    return voice.models or default_models()


class VoskSpotter:
    """A `Spotter` on a Vosk model with a dynamic graph.

    hearing: judges each match; the second hearing unless a benchmark asks for the grammar alone.
    Raises CompanionError for a phrase with a word that the model doesn't know.
    """

    name = "vosk"

    def __init__(self, vocabulary: Vocabulary, model: VoskModel, hearing: Weighing | None = None) -> None:
        self._model = model
        self._grammar = Grammar(vocabulary, model)
        self._hearing = hearing or SecondHearing(model, self._grammar)
        self._gate = SpeechGate(hang_over_ms=_HANG_OVER_MS)
        self._free_from = 0
        self._renewals: Counter[int] = Counter()
        self._start(0, np.zeros(0, np.int16))

    def hear(self, block: Sound) -> list[Candidate]:
        """Take the next block of sound and return what was decided by its end."""
        return [found for speech in self._gate.hear(block) for found in self._take(speech)]

    def finish(self) -> list[Candidate]:
        """Return what is still undecided at the end of the sound."""
        return [found for speech in self._gate.finish() for found in self._take(speech)]

    def _start(self, begin: int, sound: Sound) -> None:
        self._recogniser = self._model.recogniser(self._grammar.lines)
        self._recogniser.SetWords(True)
        self._recogniser.SetMaxAlternatives(_READINGS)
        self._origin = begin
        self._memory = sound
        self._given = 0
        self._steady = 0

    @property
    def _now(self) -> int:
        return self._origin + len(self._memory)

    def _take(self, speech: Speech) -> Iterator[Candidate]:
        if speech.first:
            self._start(speech.begin, np.zeros(0, np.int16))
        self._memory = np.concatenate((self._memory, _with_noise(speech.sound, speech.begin)))
        while len(self._memory) - self._given >= _STEP:
            yield from self._listen(self._memory[self._given : self._given + _STEP])
        if speech.last:
            self._recogniser.AcceptWaveform(self._memory[self._given :].tobytes())
            self._given = len(self._memory)
            yield from self._decide(self._heard(self._recogniser.FinalResult()))
        elif len(self._memory) > _RENEW_AFTER:
            yield from self._renew()

    def _listen(self, step: Sound) -> Iterator[Candidate]:
        self._given += len(step)
        if self._recogniser.AcceptWaveform(step.tobytes()):
            self._steady = 0
            yield from self._decide(self._heard(self._recogniser.Result()))
            return
        words = json.loads(self._recogniser.PartialResult())["partial"].split()
        self._steady = self._steady + 1 if self._grammar.holds(words) else 0
        listened = self._origin + self._given
        if self._steady == _STEADY_READINGS and self._renewals[listened] < _MOST_RENEWALS:
            self._renewals[listened] += 1
            yield from self._renew()

    def _renew(self) -> Iterator[Candidate]:
        """Make the recogniser decide now, and go on with a new one shortly before the undecided rest."""
        yield from self._decide(self._heard(self._recogniser.FinalResult()))
        begin = max(self._now - _OVERLAP, self._free_from - _AROUND, self._origin)
        self._start(begin, self._memory[begin - self._origin :])

    def _heard(self, result: str) -> list[Match]:
        readings = [
            Reading(
                words=[
                    Word(
                        text=word["word"],
                        begin=self._origin + round(word["start"] * SAMPLE_RATE),
                        end=self._origin + round(word["end"] * SAMPLE_RATE),
                    )
                    for word in reading.get("result", ())
                ],
                likelihood=reading["confidence"],
            )
            for reading in json.loads(result)["alternatives"]
        ]
        matches = self._grammar.likely_matches(readings)
        return [match for match in matches if match.begin >= self._free_from]

    def _decide(self, matches: list[Match]) -> Iterator[Candidate]:
        for match in matches:
            if not _is_possible(match):
                continue
            begin = max(0, match.begin - self._origin - _AROUND)
            sound = self._memory[begin : match.end - self._origin + _AROUND]
            confidence, reasons = self._hearing(match, sound)
            fired = confidence >= FIRING_POINT
            self._free_from = match.end + _REFRACTORY if fired else match.end
            if confidence >= NEAR_MISS_POINT:
                yield Candidate(
                    phrase=match.phrase,
                    begin_ms=_ms(match.begin),
                    end_ms=_ms(match.end),
                    decided_ms=_ms(self._origin + self._given),
                    confidence=confidence,
                    fired=fired,
                    engine=self.name,
                    reasons=reasons,
                )


def grammar_alone(match: Match, sound: Sound) -> tuple[float, tuple[str, ...]]:  # noqa: ARG001 - a `Weighing`
    """Believe the grammar, as a benchmark's comparison does; no lesson should."""
    return match.posterior, ("the grammar alone",)


def _with_noise(sound: Sound, begin: int) -> Sound:
    noise = _NOISE.take(np.arange(begin, begin + len(sound)), mode="wrap").astype(np.int32)
    limits = np.iinfo(np.int16)
    return (sound + noise).clip(limits.min, limits.max).astype(np.int16)


def _is_possible(match: Match) -> bool:
    letters = sum(len(word) for word in match.spoken)
    seconds = (match.end - match.begin) / SAMPLE_RATE
    return _LETTER_S[0] * letters <= seconds <= _LETTER_S[1] * letters + 1.0


def _ms(sample: int) -> int:
    return max(0, sample) * 1000 // SAMPLE_RATE
