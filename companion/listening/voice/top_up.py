"""Learns a voice from the features of its takes, without their sound."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from companion.lesson.vocabulary import Vocabulary
from companion.listening.detection.detector import LEAST_FIT, Detector, fits, scores
from companion.listening.detection.learning import (
    FEWEST_TAKES,
    Stretches,
    other_speech,
    said_in,
    teach,
    too_few,
    ways_after_cue,
    ways_to_say,
)
from companion.listening.phonemes.acoustic_model import Looks, together
from companion.listening.voice.cues import synthetic_stretches
from companion.listening.voice.features import TakeFeatures, VoiceFeatures
from companion.listening.voice.learnt import Learnt
from companion.listening.voice.speaker import LEAST_AMONG_TAKES, likeness, one_speaker

TRIED_PARTS = 4
"""Parts into which takes and other speech are cut to try what was learnt on what was left out."""
MORE_MISSED = 0.02
"""Share of the variants of rehearsed takes that may be missed more, and …"""
MORE_FALSE = 1
"""… windows of other speech that may be heard more, by chance."""


def relearn(vocabulary: Vocabulary, features: VoiceFeatures, folder: Path | None = None) -> Learnt:
    """Return what `enrolled.learn_voice` would, some two seconds for each detector.

    folder: where cues learnt from synthetic voices are kept. Raises CompanionError for too few takes.
    """
    others = other_speech(features.talk)
    detectors = tuple(
        learn_from(phrase, takes_of(phrase, features), others, synthetic_stretches(phrase, folder))
        for phrase in vocabulary.openers
    )
    speaker = one_speaker([take.speaker for take in features.takes])
    return Learnt(detectors, ways_after_cue(vocabulary), speaker)


def learn_from(
    phrase: str, takes: Sequence[TakeFeatures], others: Looks, synthetic: Stretches | None = None
) -> Detector:
    """Learn to detect `phrase` from the features of its takes and synthetic voices, against other speech.

    Raises CompanionError when there are fewer than `FEWEST_TAKES` in which the phrase is heard.
    """
    chains = ways_to_say(phrase)
    clear = [take for take in takes if fits(take.heard.costs, chains).max() > LEAST_FIT]
    if len(clear) < FEWEST_TAKES:
        raise too_few(phrase, len(clear))
    said = said_in(phrase, together([take.heard for take in clear]))
    return teach(phrase, said, others, np.random.default_rng(0), synthetic=synthetic)


@dataclass(frozen=True, slots=True)
class Heard:
    """What a way of learning makes of what it did not learn from."""

    missed: int
    """Variants of rehearsed takes."""
    variants: int
    false: int
    """Windows of other speech in which a phrase is heard."""

    def worse_than(self, other: "Heard") -> bool:
        """Whether it misses more, or hears more that was not said, than chance would have it."""
        return (
            self.missed - other.missed > MORE_MISSED * self.variants or self.false > other.false + MORE_FALSE
        )


def trusted(rehearsed: VoiceFeatures, reviewed: Sequence[TakeFeatures]) -> tuple[TakeFeatures, ...]:
    """Return the takes from lessons that are of the rehearsed voice; all, where that was not clearly one.

    A child's or a colleague's that was confirmed by mistake must not be learnt as the teacher's.
    """
    teacher = one_speaker([take.speaker for take in rehearsed.takes])
    if teacher is None:
        return tuple(reviewed)
    return tuple(take for take in reviewed if likeness(teacher, take.speaker) >= LEAST_AMONG_TAKES)


def tried(
    vocabulary: Vocabulary,
    rehearsed: VoiceFeatures,
    reviewed: Sequence[TakeFeatures],
    folder: Path | None = None,
) -> Heard:
    """Return how what is learnt from a rehearsal and takes from lessons hears what is left out of both.

    Each rehearsed take is left out once, and each part of the other speech; some two seconds a part.
    """
    others = other_speech(rehearsed.talk)
    missed = variants = false = 0
    for phrase in vocabulary.openers:
        said = takes_of(phrase, rehearsed)
        more = [take for take in reviewed if take.phrase == phrase]
        synthetic = synthetic_stretches(phrase, folder)
        for part in range(TRIED_PARTS):
            left_out = np.arange(len(others.costs)) * TRIED_PARTS // max(1, len(others.costs)) == part
            rest = [take for number, take in enumerate(said) if number % TRIED_PARTS != part]
            detector = learn_from(phrase, [*rest, *more], only(others, ~left_out), synthetic)
            for take in said[part::TRIED_PARTS]:
                missed += int(np.sum(scores(detector, take.heard) < detector.fires_at))
                variants += len(take.heard.costs)
            false += int(np.sum(scores(detector, only(others, left_out)) >= detector.fires_at))
    return Heard(missed, variants, false)


def takes_of(phrase: str, features: VoiceFeatures) -> list[TakeFeatures]:
    """Return the takes of one phrase."""
    return [take for take in features.takes if take.phrase == phrase]


def only(others: Looks, chosen: NDArray[np.bool_]) -> Looks:
    """Return the chosen windows."""
    return Looks(others.costs[chosen], others.embeddings[chosen])
