"""What is compared: the engines as they are used, and the bare recognisers that they are built on."""

import math
import tempfile
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from pocketsphinx import Config, Decoder

from companion.bench.folder import Labelled
from companion.errors import CompanionError
from companion.lesson.vocabulary import Vocabulary
from companion.listening.acoustics import FRAME_SAMPLES, forms
from companion.listening.candidate import Candidate
from companion.listening.detection.learning import bundled_embeddings
from companion.listening.detection.takes import plain_windows
from companion.listening.engines import Voice, choose, open_spotter, require_english
from companion.listening.phonemes.acoustic_model import WINDOW_SAMPLES, hear, window_ending
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.listening.spotter import Spotter
from companion.listening.voice.enrolled import learn_voice, opener
from companion.listening.vosk.spotter import VoskSpotter, grammar_alone, model_of

Opener = Callable[[], Spotter]
"""Opens a new spotter for each recording; what was learnt is shared."""

Preparation = Callable[[], Opener]
"""Learns or loads what an engine needs. Raises CompanionError when it can't hear these recordings."""


def preparations(labelled: Labelled, models: Path) -> dict[str, Preparation]:
    """Return every engine and bare recogniser under the name that the tables use.

    models: folder of speech models.
    """
    vocabulary, voice = labelled.vocabulary, Voice(models=models)
    return {
        "enrolled": partial(_enrolled, labelled),
        "phonemes": partial(_english, vocabulary, "phonemes"),
        "pocketsphinx": partial(_english, vocabulary, "pocketsphinx"),
        "bare key phrases": partial(_bare_keyphrases, vocabulary),
        "bare embedding": partial(_bare_embedding, labelled),
        "vosk": partial(_vosk, vocabulary, voice),
        "vosk grammar alone": partial(_vosk_grammar_alone, vocabulary, voice),
    }


def _enrolled(labelled: Labelled) -> Opener:
    require_english(labelled.vocabulary, "enrolled")
    learnt = learn_voice(labelled.vocabulary, labelled.takes)
    return opener(labelled.vocabulary, learnt, lowest_log_odds=-30.0)


def _english(vocabulary: Vocabulary, engine: str) -> Opener:
    require_english(vocabulary, engine)
    return partial(open_spotter, vocabulary, engine)


def _bare_keyphrases(vocabulary: Vocabulary) -> Opener:
    require_english(vocabulary, "bare key phrases")
    return partial(BareKeyphrases, vocabulary)


def _bare_embedding(labelled: Labelled) -> Opener:
    if labelled.vocabulary.cue is not None:
        raise CompanionError("It can't put a cue and a phrase together.")
    learnt = {phrase: bare_classifier(takes) for phrase, takes in labelled.takes.items()}
    return partial(BareEmbedding, learnt)


def _vosk(vocabulary: Vocabulary, voice: Voice) -> Opener:
    choose(vocabulary, "vosk", voice)
    model_of(vocabulary, voice)
    return partial(open_spotter, vocabulary, "vosk", voice)


def _vosk_grammar_alone(vocabulary: Vocabulary, voice: Voice) -> Opener:
    choose(vocabulary, "vosk", voice)
    return partial(VoskSpotter, vocabulary, model_of(vocabulary, voice), grammar_alone)


class BareKeyphrases:
    """Pocketsphinx' key phrase search on whole spoken forms, with nothing before or after it."""

    name = "bare key phrases"

    def __init__(self, vocabulary: Vocabulary, threshold: float = 1e-40) -> None:
        self._decoder = Decoder(Config(lm=None, loglevel="FATAL"))
        self._phrases = {
            form: phrase
            for phrase in vocabulary.phrases
            for form in forms(self._decoder, vocabulary.spoken(phrase))
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
        length = (hit.end_frame - hit.start_frame + 1) * FRAME_SAMPLES
        score = math.log(max(hit.prob, 1e-300))
        phrase = self._phrases[hit.word.strip()]
        return [_candidate(self.name, phrase, self._heard - length, self._heard, self._heard, score + 50)]

    def finish(self) -> list[Candidate]:
        """Return nothing: every hit was told when it was found."""
        return []


@dataclass(frozen=True, slots=True)
class Linear:
    """A linear classifier over the last `LOOKS` embeddings."""

    weights: NDArray[np.float64]
    bias: float


LOOKS = 12


def bare_classifier(takes: Sequence[Sound]) -> Linear:
    """Learn logistic regression on the takes as they are, against the bundled speech."""
    from sklearn.linear_model import LogisticRegression  # noqa: PLC0415 - a second to import

    said = np.concatenate(
        [_looks(hear(plain_windows(takes, after)).embeddings) for after in (0.05, 0.1, 0.15, 0.2)]
    )
    others = bundled_embeddings()
    unsaid = np.concatenate([_looks(others[:, :last]) for last in range(LOOKS, others.shape[1] + 1, 3)])
    model = LogisticRegression(C=0.001, max_iter=300, class_weight="balanced").fit(
        np.concatenate((said, unsaid)), np.concatenate((np.ones(len(said)), np.zeros(len(unsaid))))
    )
    return Linear(model.coef_[0], float(model.intercept_[0]))


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
