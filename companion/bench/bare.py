"""The bare recognisers that the engines are compared with: nothing before them and nothing after."""

import math
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import islice, product
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from companion.lesson.vocabulary import Vocabulary
from companion.listening.candidate import Candidate
from companion.listening.detection.learning import bundled_embeddings
from companion.listening.detection.regression import logistic_regression
from companion.listening.detection.takes import plain_windows
from companion.listening.phonemes.acoustic_model import WINDOW_SAMPLES, hear, window_ending
from companion.listening.phonemes.pronunciation import from_dictionary, pronunciations, words
from companion.listening.sound import SAMPLE_RATE, Sound

_FRAME_SAMPLES = 160
"""Samples in one of the decoder's frames (10 ms)."""
_MOST_FORMS = 4
"""Most ways of saying one phrase that are searched for."""


class BareKeyphrases:
    """Pocketsphinx' key phrase search on whole spoken forms, with nothing before or after it."""

    name = "bare key phrases"

    def __init__(self, vocabulary: Vocabulary, threshold: float = 1e-40) -> None:
        from pocketsphinx import Config, Decoder  # noqa: PLC0415 - with the extra `bench` only

        self._decoder = Decoder(Config(lm=None, loglevel="FATAL"))
        self._phrases = {
            form: phrase for phrase in vocabulary.phrases for form in self._forms(vocabulary.spoken(phrase))
        }
        with tempfile.TemporaryDirectory() as folder:
            listing = Path(folder) / "keyphrases"
            listing.write_text("".join(f"{form} /{threshold}/\n" for form in self._phrases), encoding="utf-8")
            self._decoder.add_kws("phrases", str(listing))
        self._decoder.activate_search("phrases")
        self._decoder.start_utt()
        self._heard = 0

    def hear(self, block: Sound) -> list[Candidate]:
        """Take the next block of sound and return the hit in it, after which the search begins anew."""
        self._decoder.process_raw(block.tobytes(), full_utt=False)
        self._heard += len(block)
        hits = [hit for hit in self._decoder.seg() or () if hit.word.strip() in self._phrases]
        if not hits:
            return []
        self._decoder.end_utt()
        self._decoder.start_utt()
        hit = max(hits, key=lambda hit: float(hit.prob))
        length = (hit.end_frame - hit.start_frame + 1) * _FRAME_SAMPLES
        score = math.log(max(hit.prob, 1e-300))
        phrase = self._phrases[hit.word.strip()]
        return [_candidate(self.name, phrase, self._heard - length, self._heard, self._heard, score + 50)]

    def finish(self) -> list[Candidate]:
        """Return nothing: every hit was told when it was found."""
        return []

    def _forms(self, text: str) -> list[str]:
        """Return the text in the decoder's own words, once for each usual way of saying it."""
        said = [self._teach(word) for word in words(text)]
        return [" ".join(form) for form in islice(product(*said), _MOST_FORMS)]

    def _teach(self, word: str) -> list[str]:
        """Return the decoder's names for each way of saying the word, and add those that it lacks."""
        known = from_dictionary(word) or pronunciations(word)[:1]
        names = [word, *(f"{word}({number})" for number in range(2, len(known) + 1))]
        for name, said in zip(names, known, strict=True):
            if self._decoder.lookup_word(name) is None:
                self._decoder.add_word(name, " ".join(said), True)
        return names


@dataclass(frozen=True, slots=True)
class Linear:
    """A linear classifier over the last `LOOKS` embeddings."""

    weights: NDArray[np.float64]
    bias: float


LOOKS = 12


def bare_classifier(takes: Sequence[Sound]) -> Linear:
    """Learn logistic regression on the takes as they are, against the bundled speech."""
    said = np.concatenate(
        [_looks(hear(plain_windows(takes, after)).embeddings) for after in (0.05, 0.1, 0.15, 0.2)]
    )
    others = bundled_embeddings()
    unsaid = np.concatenate([_looks(others[:, :last]) for last in range(LOOKS, others.shape[1] + 1, 3)])
    seen = np.concatenate((said, unsaid))
    return Linear(*logistic_regression(seen, np.arange(len(seen)) < len(said), 0.001))


class BareEmbedding:
    """The bare embeddings and logistic regression, every 80 ms, with nothing before or after it."""

    name = "bare embedding"
    _STEP = 1_280
    _REFRACTORY = SAMPLE_RATE

    def __init__(self, learnt: Mapping[str, Linear]) -> None:
        self._learnt = learnt
        self._sound: Sound = np.zeros(0, np.int16)
        self._heard = 0
        self._looked_at = 0

    def hear(self, block: Sound) -> list[Candidate]:
        """Take the next block of sound and return every look's score above nothing."""
        self._sound = np.concatenate((self._sound, block))[-WINDOW_SAMPLES - self._STEP * 8 :]
        self._heard += len(block)
        if self._heard - self._looked_at < 4 * self._STEP:
            return []
        steps = (self._heard - self._looked_at) // self._STEP
        self._looked_at += steps * self._STEP
        embedded = hear(window_ending(self._sound, len(self._sound))[np.newaxis]).embeddings
        found = []
        for back in range(min(steps, embedded.shape[1] - LOOKS)):
            look = _looks(embedded[:, : embedded.shape[1] - back])[0]
            end = self._heard - back * self._STEP
            for phrase, learnt in self._learnt.items():
                score = float(look @ learnt.weights) + learnt.bias
                found.append(_candidate(self.name, phrase, end - SAMPLE_RATE, end, self._heard, score))
        return found

    def finish(self) -> list[Candidate]:
        """Return nothing: every look was told."""
        return []


def _looks(embedded: NDArray[np.float32]) -> NDArray[np.float32]:
    return embedded[:, -LOOKS:].reshape(len(embedded), -1)


def _candidate(  # noqa: PLR0917 (five times the same six)
    engine: str, phrase: str, begin: int, end: int, heard: int, score: float
) -> Candidate:
    ms = [max(0, sample) * 1000 // SAMPLE_RATE for sample in (begin, end, heard)]
    odds = 1 / (1 + np.exp(-np.clip(score / 10, -30, 30)))
    return Candidate(phrase, ms[0], ms[1], ms[2], float(odds), score > 0, engine)
