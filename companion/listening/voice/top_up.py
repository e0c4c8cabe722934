"""Learns a voice from the features of its takes, without their sound."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from companion.lesson.vocabulary import Vocabulary
from companion.listening.detection.detector import LEAST_FIT, Detector, fits
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
from companion.listening.voice.speaker import one_speaker


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


def takes_of(phrase: str, features: VoiceFeatures) -> list[TakeFeatures]:
    """Return the takes of one phrase."""
    return [take for take in features.takes if take.phrase == phrase]


def only(others: Looks, chosen: NDArray[np.bool_]) -> Looks:
    """Return the chosen windows."""
    return Looks(others.costs[chosen], others.embeddings[chosen])
