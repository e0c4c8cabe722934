"""What is kept of takes instead of their sound, so that they can be learnt from again with more beside them.

The features are what the acoustic model hears in variants of a take, and how its timbre goes on (`course`):
no sound, but a skilled person could make a whisper of the phrase of them. They are personal data, and lie in
files of 0600 in a folder of 0700.
"""

import json
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from ulid import ULID

from companion.errors import CompanionError
from companion.language import _
from companion.lesson.vocabulary import Vocabulary
from companion.listening.detection.detector import LEAST_FIT
from companion.listening.detection.learning import (
    FEWEST_TAKES,
    VARIANTS,
    hear_talk,
    too_few,
    ways_to_say,
)
from companion.listening.detection.takes import Takes, varied_windows
from companion.listening.microphone.recent import BEFORE_S
from companion.listening.phonemes.acoustic_model import (
    FRAME_SAMPLES,
    MODEL,
    WINDOW_SAMPLES,
    Looks,
    hear,
    window_ending,
)
from companion.listening.phonemes.search import fit
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.listening.voice.files import REHEARSED, reading, speaker_entry, speaker_of, write_features
from companion.listening.voice.speaker import Speaker, take_speaker
from companion.paths import private_folder

TOPPED_UP = "reviewed-*.npz"
REVIEWED_VARIANTS = 8
"""Variants of one take from a lesson: fewer than a rehearsed one has: nobody said it for this."""
REVIEWED_SNR_DB = (9.0, 24.0)
"""A take from a lesson has its own noise already, and gets less."""
LEAD_S = 0.5
"""Sound before a candidate's begin in which its phrase is looked for too."""
AFTER_S = 0.06
"""What is kept behind the phrase: the network hears its last phoneme a little early."""


@dataclass(frozen=True, slots=True)
class TakeFeatures:
    """One take of a phrase, as the acoustic model hears its variants."""

    phrase: str
    heard: Looks
    speaker: Speaker


@dataclass(frozen=True, slots=True)
class VoiceFeatures:
    """The takes, and other talk of the same voice with the room (None where there is none)."""

    takes: tuple[TakeFeatures, ...]
    talk: Looks | None = None


def rehearsed_features(vocabulary: Vocabulary, takes: Takes, talk: Sequence[Sound]) -> VoiceFeatures:
    """Return the features of a rehearsal: of what a detector is learnt for, and of the talk.

    Raises CompanionError when there are fewer than `FEWEST_TAKES` takes of it.
    """
    rng = np.random.default_rng(0)
    found = []
    for phrase in vocabulary.openers:
        said = takes.get(phrase, ())
        if len(said) < FEWEST_TAKES:
            raise too_few(phrase, len(said))
        for take in said:
            varied = varied_windows([take], -(-VARIANTS // len(said)), rng)
            found.append(TakeFeatures(phrase, hear(varied), take_speaker(take)))
    return VoiceFeatures(tuple(found), hear_talk(talk))


def reviewed_features(phrase: str, clip: Sound) -> TakeFeatures | None:
    """Return the features of a phrase said in a lesson; None where it can't be found in the clip.

    clip: the sound of a candidate, with `recent.BEFORE_S` before its begin.
    """
    said = cut_out(phrase, clip)
    if said is None:
        return None
    varied = varied_windows([said], REVIEWED_VARIANTS, np.random.default_rng(), REVIEWED_SNR_DB)
    # Its course holds the lesson's own noise: voices are compared with what was rehearsed.
    return TakeFeatures(phrase, hear(varied), replace(take_speaker(said), courses=()))


def cut_out(phrase: str, clip: Sound) -> Sound | None:
    """Return the part of a candidate's clip that holds the phrase, which its command may follow at once."""
    before = max(0, int((BEFORE_S - LEAD_S) * SAMPLE_RATE))
    window = window_ending(clip[before:], WINDOW_SAMPLES)
    found = fit(hear(window[np.newaxis]).costs, ways_to_say(phrase))
    best = int(found.score[0].argmax())
    if found.score[0, best] < LEAST_FIT:
        return None
    begin, end = (int(frame) * FRAME_SAMPLES for frame in (found.begin[0, best], found.end[0, best] + 1))
    return window[max(0, begin - int(LEAD_S * SAMPLE_RATE) // 2) : end + int(AFTER_S * SAMPLE_RATE)]


def keep_rehearsed(folder: Path, features: VoiceFeatures) -> None:
    """Keep a rehearsal's features in place of an earlier one's, and delete those of other models.

    Raises CompanionError if the disk fails.
    """
    _write(private_folder(folder) / REHEARSED, features)
    for path in folder.glob(TOPPED_UP):
        # A damaged one is told about when it is read.
        with suppress(CompanionError):
            if _read(path) is None:
                path.unlink()


def keep_reviewed(folder: Path, take: TakeFeatures) -> None:
    """Keep one more take. Raises CompanionError when the disk does not let us."""
    _write(private_folder(folder) / TOPPED_UP.replace("*", str(ULID())), VoiceFeatures((take,)))


def reviewed_count(folder: Path) -> int:
    """Return how many takes from lessons are kept."""
    return len(list(folder.glob(TOPPED_UP)))


def recall_features(folder: Path) -> VoiceFeatures:
    """Return everything that is kept, of rehearsal and lessons, less what another model heard.

    Raises CompanionError for a damaged file.
    """
    rehearsed = recall_rehearsed(folder)
    return VoiceFeatures((*rehearsed.takes, *recall_reviewed(folder)), rehearsed.talk)


def recall_rehearsed(folder: Path) -> VoiceFeatures:
    """Return what is kept of the rehearsal. Raises CompanionError for a damaged file."""
    path = folder / REHEARSED
    return (_read(path) if path.is_file() else None) or VoiceFeatures(())


def recall_reviewed(folder: Path) -> tuple[TakeFeatures, ...]:
    """Return the takes from lessons, oldest first. Raises CompanionError for a damaged file."""
    read = [_read(path) for path in sorted(folder.glob(TOPPED_UP))]
    return tuple(take for features in read if features for take in features.takes)


def _write(path: Path, features: VoiceFeatures) -> None:
    heard = [take.heard for take in features.takes] + ([features.talk] if features.talk else [])
    about = {
        "phrases": [take.phrase for take in features.takes],
        "windows": [len(others.costs) for others in heard],
        "speakers": [speaker_entry(take.speaker) for take in features.takes],
    }
    write_features(
        path,
        about,
        {
            "costs": np.concatenate([h.costs for h in heard]).astype(np.float16),
            "embeddings": np.concatenate([h.embeddings for h in heard]).astype(np.float16),
        },
    )


def _read(path: Path) -> VoiceFeatures | None:
    """Return what stands in a file; None where another model heard it."""
    damaged = _("The voice features in {path} are damaged.", path=path)
    with reading(path, damaged, _("Delete that file, or rehearse again: companion rehearse")) as stored:
        about = json.loads(str(stored["about"]))
        if about.get("model") != MODEL:
            return None
        costs = stored["costs"].astype(np.float32)
        embeddings = stored["embeddings"].astype(np.float32)
        places = np.cumsum(about["windows"])[:-1]
        heard = [
            Looks(*part) for part in zip(np.split(costs, places), np.split(embeddings, places), strict=True)
        ]
        speakers = map(speaker_of, about["speakers"])
        takes = tuple(map(TakeFeatures, about["phrases"], heard, speakers))
    return VoiceFeatures(takes, heard[len(takes)] if len(heard) > len(takes) else None)
