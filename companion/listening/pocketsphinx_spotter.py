"""The unenrolled engine: finds phrases by the dictionary, with no training on the teacher's voice.

A sensitive key phrase search hears the cue (or each phrase, where there is no cue) in running speech. From
there a second search over the whole spoken forms picks the command, and the examiner weighs what can be
known about that stretch of sound into one probability.
"""

from collections.abc import Callable, Iterator

import numpy as np

from companion.lesson.vocabulary import Vocabulary
from companion.listening.acoustics import Hit, KeyphraseSearch
from companion.listening.candidate import Candidate
from companion.listening.command_choice import CommandChoice
from companion.listening.engines import Voice, require_english
from companion.listening.evidence import Evidence, Examiner, Find, probability, reasons
from companion.listening.microphone.gate import Speech, SpeechGate
from companion.listening.sound import SAMPLE_RATE, Sound

FIRING_POINT = 0.5
NEAR_MISS_POINT = 0.1
"""Probabilities: from the first a mark, from the second a near miss, below it nothing at all."""

_OPENER_SENSITIVITY = -250
"""Threshold of the search, as a power of ten. The examiner refuses; the search only proposes."""

_LEAST_SCORE = -3.0
"""Nats a frame. Nothing that scores worse was ever a phrase, and to examine all of it would cost a core."""

_SETTLE = int(0.25 * SAMPLE_RATE)
"""A find is believed when its end lies so far back and nothing has bettered it."""

_LEAD = int(0.35 * SAMPLE_RATE)
"""Sound around a find that the examiner is given."""

_CUE_LEAD = int(0.03 * SAMPLE_RATE)
_FIRST_LOOK = int(0.5 * SAMPLE_RATE)
_LOOK_AGAIN = int(0.2 * SAMPLE_RATE)
_COMMAND_WITHIN = int(2.6 * SAMPLE_RATE)
"""Sound before the cue, and after it until the first look for a command, the next, and the last."""

_FIRST = SAMPLE_RATE
"""Sound of a stretch that is gathered before the search begins: it needs so much to normalise by."""

_MEMORY = 8 * SAMPLE_RATE


class PocketsphinxSpotter:
    """A `Spotter` on the model inside the `pocketsphinx` package.

    judge: turns evidence into a probability; the fitted one unless a fitting script puts in its own.
    Raises CompanionError for a phrase with a word that nobody knows how to say.
    """

    name = "pocketsphinx"

    def __init__(self, vocabulary: Vocabulary, *, judge: Callable[[Evidence], float] = probability) -> None:
        self._vocabulary = vocabulary
        self._judge = judge
        self._gate = SpeechGate()
        self._memory = _Memory()
        self._examiner = Examiner()
        openers = [vocabulary.cue] if vocabulary.cue else vocabulary.phrases
        self._openers = KeyphraseSearch(openers, sensitivity=_OPENER_SENSITIVITY)
        self._window = _CommandWindow(vocabulary.cue, vocabulary.phrases) if vocabulary.cue else None
        self._started = False
        self._free_from = 0

    def hear(self, block: Sound) -> list[Candidate]:
        """Take the next block of sound and return what was decided by its end."""
        return [found for speech in self._gate.hear(block) for found in self._take(speech)]

    def finish(self) -> list[Candidate]:
        """Return what is still undecided at the end of the sound."""
        return [found for speech in self._gate.finish() for found in self._take(speech)]

    def _take(self, speech: Speech) -> Iterator[Candidate]:
        if speech.first:
            self._memory.clear(speech.begin)
            self._started = False
        self._memory.add(speech.sound)
        if self._started:
            self._openers.hear(speech.sound)
        elif speech.last or len(self._memory) >= _FIRST:
            self._openers.start(self._memory.begin, self._memory.all)
            self._started = True
        else:
            return
        if speech.last:
            self._openers.end()
        hits = self._ripe_hits(last=speech.last)
        if self._window is None:
            finds = [Find(hit.text, hit.begin, hit.end, hit.score_a_frame) for hit in hits]
        else:
            for cue in hits:
                self._window.open(cue)
            finds = self._window.settled(self._memory, last=speech.last)
        yield from self._decide(finds)

    def _ripe_hits(self, *, last: bool) -> list[Hit]:
        """Return the opener's hits that nothing in the same place can better any more."""
        hits = [
            hit
            for hit in self._openers.hits()
            if hit.begin >= self._free_from and hit.score_a_frame > _LEAST_SCORE
        ]
        settled = self._memory.end if last else self._memory.end - _SETTLE
        ripe = []
        for hit in sorted(hits, key=lambda hit: hit.score, reverse=True):
            if hit.end <= settled and hit.begin >= self._free_from:
                ripe.append(hit)
                self._free_from = hit.end
        return sorted(ripe, key=lambda hit: hit.begin)

    def _decide(self, finds: list[Find]) -> Iterator[Candidate]:
        for find in finds:
            begin = max(self._memory.begin, find.begin - _LEAD)
            evidence = self._examiner.examine(
                find,
                self._vocabulary.spoken(find.phrase),
                self._memory.between(begin, find.end + _LEAD),
                begin,
            )
            confidence = self._judge(evidence)
            if confidence >= NEAR_MISS_POINT:
                yield Candidate(
                    phrase=find.phrase,
                    begin_ms=_ms(find.begin),
                    end_ms=_ms(find.end),
                    decided_ms=_ms(self._memory.end),
                    confidence=confidence,
                    fired=confidence >= FIRING_POINT,
                    engine=self.name,
                    reasons=reasons(evidence),
                )


class _CommandWindow:
    """Waits after a cue until the command that follows is clear."""

    def __init__(self, cue: str, phrases: tuple[str, ...]) -> None:
        self._choice = CommandChoice(cue, phrases)
        self._cue: Hit | None = None
        self._look_at = 0
        self._before = ""

    def open(self, cue: Hit) -> None:
        """Begin to wait for the command after this cue; an earlier cue that is still waiting is given up."""
        self._cue = cue
        self._look_at = cue.end + _FIRST_LOOK
        self._before = ""

    def settled(self, memory: "_Memory", *, last: bool) -> list[Find]:
        """Return the command once it is clear, or the best guess once no more can come; else []."""
        cue = self._cue
        if cue is None or not (last or memory.end >= self._look_at):
            return []
        self._look_at = memory.end + _LOOK_AGAIN
        begin = cue.begin - _CUE_LEAD
        sound = memory.between(begin, memory.end)
        choice = self._choice.choose(sound)
        over = last or memory.end > cue.end + _COMMAND_WITHIN
        end = begin + choice.end if choice else 0
        clear = choice and choice.command == self._before and end <= memory.end - _SETTLE
        self._before = choice.command if choice else ""
        if not (over or clear):
            return []
        self._cue = None
        if choice is None:
            return []
        return [Find(choice.command, cue.begin, end, cue.score_a_frame, self._choice.weigh(choice, sound))]


class _Memory:
    """The last seconds of the present stretch of speech, addressed by sample number."""

    def __init__(self) -> None:
        self._sound: Sound = np.zeros(0, np.int16)
        self.begin = 0

    def __len__(self) -> int:
        return len(self._sound)

    @property
    def end(self) -> int:
        return self.begin + len(self._sound)

    @property
    def all(self) -> Sound:
        return self._sound

    def clear(self, begin: int) -> None:
        self._sound = np.zeros(0, np.int16)
        self.begin = begin

    def add(self, sound: Sound) -> None:
        self._sound = np.concatenate((self._sound, sound))
        if len(self._sound) > 2 * _MEMORY:
            self.begin += len(self._sound) - _MEMORY
            self._sound = self._sound[-_MEMORY:]

    def between(self, begin: int, end: int) -> Sound:
        return self._sound[max(0, begin - self.begin) : max(0, end - self.begin)]


def _ms(sample: int) -> int:
    return max(0, sample) * 1000 // SAMPLE_RATE


def require(vocabulary: Vocabulary, voice: Voice) -> None:  # noqa: ARG001 (what every engine's module offers)
    """Raise CompanionError unless the phrases are English; the English model is always there."""
    require_english(vocabulary, PocketsphinxSpotter.name)


def open_spotter(vocabulary: Vocabulary, voice: Voice) -> PocketsphinxSpotter:  # noqa: ARG001
    """Open the engine for a lesson. Raises CompanionError for a word that nobody knows how to say."""
    return PocketsphinxSpotter(vocabulary)
