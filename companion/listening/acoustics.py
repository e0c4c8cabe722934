"""The dictionary recogniser's own machinery, one small class for each way of asking it about sound.

All of it rests on the English model inside the `pocketsphinx` package. Scores are natural logarithms of
likelihoods relative to the best sound model of each frame (10 ms), so 0 is perfect and -1 a frame is poor.
"""

import math
import tempfile
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import islice, product
from pathlib import Path

from pocketsphinx import Config, Decoder

from companion.errors import CompanionError
from companion.listening.phonemes.pronunciation import Phonemes, from_dictionary, pronunciations, words
from companion.listening.sound import SAMPLE_RATE, Sound

FRAME_SAMPLES = 160
"""Samples in one frame (10 ms)."""

NATS = 1024 * math.log(1.0001)
"""One unit of the recogniser's acoustic scores, in nats: logarithms to base 1.0001, shifted by 10 bits."""

_KWS_OFFSET = 1500
"""What the key phrase search subtracts from each hit's score (KWS_MAX in its kws_search.c)."""

_WIDEST_BEAM = -200
"""The key phrase search's default beam of 1e-48 loses one true phrase in seven before it is scored."""

_CEPSTRUM_MEMORY = 4 * SAMPLE_RATE
"""How much earlier sound a stretch's own beginning is blended with."""

_MOST_MODELS = 3000
"""Sound models that the full vocabulary may keep alive in one frame: a fifth of the time of the default
30,000 with the later passes, and in a noisy room hardly other words."""

_SHORTEST_FRAMES = 15

_MOST_FORMS = 4
"""Most ways of saying one phrase that are searched for."""


@dataclass(frozen=True, slots=True)
class Hit:
    """Where a text matches about as well as a free chain of phonemes does. Times are sample numbers."""

    text: str
    begin: int
    end: int
    score: float
    """Log likelihood ratio (nats) against the phoneme loop; 0 is a perfect match, -100 a poor one."""

    @property
    def score_a_frame(self) -> float:
        """The score in nats for each 10 ms."""
        return self.score * FRAME_SAMPLES / max(FRAME_SAMPLES, self.end - self.begin)


@dataclass(frozen=True, slots=True)
class AlignedPhoneme:
    """One phoneme of a forced alignment: its frames and its mean score a frame."""

    name: str
    begin_frame: int
    frames: int
    score: float


class KeyphraseSearch:
    """Looks for any of some texts in running sound, each against a loop of all phonemes.

    sensitivity: the threshold as a power of ten; -120 finds nearly everything, and much else.
    """

    def __init__(self, texts: Iterable[str], *, sensitivity: int) -> None:
        beam = 10.0**_WIDEST_BEAM
        self._decoder = bare_decoder(beam=beam, pbeam=beam, wbeam=beam)
        self._begin = 0
        self._texts = {form: text for text in texts for form in forms(self._decoder, text)}
        with tempfile.TemporaryDirectory() as folder:
            listing = Path(folder) / "keyphrases"
            listing.write_text(
                "".join(f"{form} /1e{sensitivity}/\n" for form in self._texts), encoding="utf-8"
            )
            self._decoder.add_kws("phrases", str(listing))
        self._decoder.activate_search("phrases")
        self._cepstrum = _Cepstrum()

    def start(self, begin: int, sound: Sound) -> None:
        """Begin a new stretch whose first sample has the number `begin`, and hear its first sound.

        The first sound also tells the decoder how loud and how coloured the microphone is: left to
        itself it would take ten seconds of speech to find that out, and miss what was said in them.
        """
        self.search(sound)
        self._cepstrum.learn(_cepstrum(self._decoder), len(sound))
        self._decoder.set_cmn(str(self._cepstrum))
        self._begin = begin
        self._decoder.start_utt()
        self.hear(sound)

    def hear(self, sound: Sound) -> None:
        """Take more of the stretch."""
        if len(sound):
            self._decoder.process_raw(sound.tobytes(), full_utt=False)

    def end(self) -> None:
        """End the stretch; its hits can still be asked for."""
        self._decoder.end_utt()

    def search(self, sound: Sound, begin: int = 0) -> list[Hit]:
        """Return the hits in a whole piece of sound, normalised over just that piece."""
        self._begin = begin
        self._decoder.start_utt()
        self._decoder.process_raw(sound.tobytes(), full_utt=True)
        self._decoder.end_utt()
        return self.hits()

    def hits(self) -> list[Hit]:
        """Return what was found so far in this stretch; a later, better hit replaces one in its place."""
        return [
            Hit(
                self._texts[found.word.strip()],
                self._begin + found.start_frame * FRAME_SAMPLES,
                self._begin + (found.end_frame + 1) * FRAME_SAMPLES,
                (math.log(found.prob) / math.log(1.0001) + _KWS_OFFSET) * NATS,
            )
            for found in self._decoder.seg() or ()
            # With so wide a beam the search also reports paths that never began: their begin is stale.
            if found.end_frame - found.start_frame >= _SHORTEST_FRAMES
        ]


class _Cepstrum:
    """The mean cepstrum of the speech of the last seconds: what a decoder subtracts from all it hears."""

    def __init__(self) -> None:
        self._mean: list[float] = []
        self._weight = 0.0

    def learn(self, mean: list[float], samples: int) -> None:
        """Blend in the mean of so much new sound."""
        weight = self._weight + samples
        self._mean = [
            (old * self._weight + new * samples) / weight
            for old, new in zip(self._mean or mean, mean, strict=True)
        ]
        self._weight = min(weight, _CEPSTRUM_MEMORY)

    def __str__(self) -> str:
        return ",".join(f"{value:.3f}" for value in self._mean)


class Aligner:
    """Lays a known text over sound, phoneme by phoneme."""

    def __init__(self) -> None:
        self._decoder = bare_decoder(compallsen=True)

    def align(self, sound: Sound, text: str) -> list[AlignedPhoneme]:
        """Return the phonemes of the best pronunciation in their places, or [] where it cannot be laid."""
        for word in words(text):
            _teach(self._decoder, word)
        self._decoder.set_align_text(" ".join(words(text)))
        if not self._decode(sound) or self._decoder.hyp() is None:
            return []
        self._decoder.set_alignment()
        # Asking for a hypothesis after this second pass would crash inside the decoder.
        if not self._decode(sound):
            return []
        # The alignment owns its entries: it must stay referenced while they are read.
        alignment = self._decoder.get_alignment()
        return [
            AlignedPhoneme(
                phone.name, phone.start, phone.duration, phone.score * NATS / max(1, phone.duration)
            )
            for word in alignment.words()
            if not word.name.startswith("<")
            for phone in word
        ]

    def _decode(self, sound: Sound) -> bool:
        self._decoder.start_utt()
        try:
            self._decoder.process_raw(sound.tobytes(), full_utt=True)
            self._decoder.end_utt()
        except RuntimeError:
            return False
        return True


class FreePhonemes:
    """Hears sound as a free chain of phonemes, bound to no words."""

    def __init__(self) -> None:
        self._decoder = bare_decoder(compallsen=True)
        self._decoder.add_allphone_file("phonemes", None)
        self._decoder.activate_search("phonemes")

    def hear(self, sound: Sound) -> list[AlignedPhoneme]:
        """Return the chain of phonemes, silence and noises left out, with scores as `Aligner` gives them."""
        self._decoder.start_utt()
        self._decoder.process_raw(sound.tobytes(), full_utt=True)
        self._decoder.end_utt()
        chain = []
        for found in self._decoder.seg() or ():
            frames = found.end_frame - found.start_frame + 1
            score = math.log(found.ascore) / math.log(1.0001) * NATS / frames if found.ascore > 0 else -99.0
            chain.append(AlignedPhoneme(found.word, found.start_frame, frames, score))
        return chain


class FreeWords:
    """Hears sound as ordinary English, with the package's full vocabulary and language model."""

    def __init__(self) -> None:
        # Its own decoder: words added to another's dictionary would upset this one's language model.
        self._decoder = Decoder(
            Config(loglevel="FATAL", fwdflat=False, bestpath=False, maxhmmpf=_MOST_MODELS)
        )

    def hear(self, sound: Sound) -> tuple[str, ...]:
        """Return the words that were understood."""
        self._decoder.start_utt()
        self._decoder.process_raw(sound.tobytes(), full_utt=True)
        self._decoder.end_utt()
        understood = self._decoder.hyp()
        return words(understood.hypstr) if understood else ()


def bare_decoder(**options: float) -> Decoder:
    """Return a decoder that knows no words but those that `forms` teaches it.

    The package's dictionary would take 25 MB for each decoder.
    """
    return Decoder(Config(lm=None, dict=None, loglevel="FATAL", **options))


def forms(decoder: Decoder, text: str) -> list[str]:
    """Return the text in the decoder's own words, once for each usual way of saying it."""
    said = [_teach(decoder, word) for word in words(text)]
    if not said:
        raise CompanionError(f"“{text}” holds no words.", remedy="Write the phrase in words.")
    return [" ".join(form) for form in islice(product(*said), _MOST_FORMS)]


def _teach(decoder: Decoder, word: str) -> list[str]:
    """Return the decoder's names for each way of saying the word, and add those that it lacks."""
    said: tuple[Phonemes, ...] = from_dictionary(word) or pronunciations(word)[:1]
    names = [word, *(f"{word}({number})" for number in range(2, len(said) + 1))]
    for name, phonemes in zip(names, said, strict=True):
        if decoder.lookup_word(name) is None:
            decoder.add_word(name, " ".join(phonemes), True)
    return names


def _cepstrum(decoder: Decoder) -> list[float]:
    return [float(value) for value in decoder.get_cmn(False).split(",")]
