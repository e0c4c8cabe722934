"""The sample sessions as recordings for the benchmark: their spoken phrases, and the talk between them."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import replace

from companion.bench.folder import Labelled
from companion.bench.people import Recording
from companion.lesson.scoring import Spoken
from companion.listening.microphone.files import whole
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.samples.sample import Sample, bundled_sample, sample_names

_AROUND_MS = 1_000
"""Of the room, before a phrase's beginning and after its end: an engine gets used to its noise."""
_SHORTEST_TALK_MS = 3_000


def from_samples() -> Labelled:
    """Cut all bundled sample sessions into clips and talk; they come with the noise of their rooms."""
    samples = [bundled_sample(name) for name in sample_names()]
    vocabularies = [sample.settings.vocabulary(sample.settings.plan()) for sample in samples]
    phrases = dict.fromkeys(phrase for vocabulary in vocabularies for phrase in vocabulary.phrases)
    clips: dict[str, list[Recording]] = defaultdict(list)
    talk: list[Sound] = []
    for sample in samples:
        sound = whole(sample.sound)
        for spoken in sample.truth:
            clips[spoken.phrase].append(Recording(_cut(sound, *_place(spoken)), "teacher"))
        talk += [_cut(sound, begin_ms, end_ms) for begin_ms, end_ms in _between(sample, len(sound))]
    return Labelled(replace(vocabularies[0], phrases=tuple(phrases)), {}, clips, talk, ())


def _between(sample: Sample, samples: int) -> Iterator[tuple[int, int]]:
    begin_ms = 0
    for spoken in sorted(sample.truth, key=lambda spoken: spoken.begin_ms):
        phrase_begin_ms, phrase_end_ms = _place(spoken)
        if phrase_begin_ms - begin_ms >= _SHORTEST_TALK_MS:
            yield begin_ms, phrase_begin_ms
        begin_ms = phrase_end_ms
    yield begin_ms, samples * 1000 // SAMPLE_RATE


def _place(spoken: Spoken) -> tuple[int, int]:
    return max(0, spoken.begin_ms - _AROUND_MS), spoken.end_ms + _AROUND_MS


def _cut(sound: Sound, begin_ms: int, end_ms: int) -> Sound:
    return sound[begin_ms * SAMPLE_RATE // 1000 : end_ms * SAMPLE_RATE // 1000]
