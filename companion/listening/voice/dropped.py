"""What a review dropped: sound that was taken for a phrase and was none, kept so that it is told from it.

Kept is only how the acoustic model hears the second that was taken for the phrase, as what the classifier
looks at, and a number for how well the phonemes fit. No sound can be played from it. It may be of a child all
the same: it lies in private files beside the teacher's own, and is deleted with them.
"""

import json
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from ulid import ULID

from companion.errors import CompanionError
from companion.language import _
from companion.listening.detection.detector import LEAST_FIT, Detector, fits, likeness_of, total
from companion.listening.detection.learning import Stretches, stretches_at, ways_to_say
from companion.listening.detection.takes import somewhere
from companion.listening.microphone.recent import BEFORE_S
from companion.listening.phonemes.acoustic_model import MODEL, WINDOW_SAMPLES, hear, window_ending
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.listening.voice.features import LEAD_S, REVIEWED_SNR_DB
from companion.listening.voice.files import reading, write_features
from companion.paths import private_folder

DROPPED = "dropped-*.npz"
VARIANTS = 6
"""Of one dropped sound: as it was, and with more noise."""


@dataclass(frozen=True, slots=True)
class Dropped:
    """One sound that was taken for a phrase and was none."""

    phrase: str
    stretches: Stretches
    """Where it was taken for the phrase, in variants of the sound."""
    nats: NDArray[np.float32]
    """How well the phonemes fit there, in each variant."""


def dropped_features(phrase: str, clip: Sound) -> Dropped | None:
    """Return what is kept of a candidate's clip; None where nothing in it is like the phrase.

    clip: with `recent.BEFORE_S` before its begin.
    """
    before = max(0, int((BEFORE_S - LEAD_S) * SAMPLE_RATE))
    window = window_ending(clip[before:], WINDOW_SAMPLES)
    rng = np.random.default_rng()
    varied = [somewhere(window.astype(np.float64), rng, REVIEWED_SNR_DB) for _ in range(VARIANTS - 1)]
    heard = hear(np.stack([window, *varied]))
    near = fits(heard.costs, ways_to_say(phrase))
    nats = near.max(axis=1)
    like = nats > LEAST_FIT
    if not like.any():
        return None
    return Dropped(phrase, stretches_at(heard.embeddings[like], near.argmax(axis=1)[like]), nats[like])


def heard_as(detector: Detector, dropped: Dropped) -> NDArray[np.float64]:
    """Return the score of each variant."""
    return np.asarray(total(dropped.nats, likeness_of(detector, dropped.stretches)), np.float64)


def stretches_of(phrase: str, dropped: Sequence[Dropped]) -> Stretches | None:
    """Return what was taken for `phrase`; None for nothing."""
    found = [one.stretches for one in dropped if one.phrase == phrase]
    return np.concatenate(found) if found else None


def keep_dropped(folder: Path, dropped: Dropped) -> None:
    """Keep one more. Raises CompanionError when the disk does not let us."""
    path = private_folder(folder) / DROPPED.replace("*", str(ULID()))
    arrays = {"stretches": dropped.stretches.astype(np.float16), "nats": dropped.nats.astype(np.float16)}
    write_features(path, {"phrase": dropped.phrase}, arrays)


def dropped_count(folder: Path) -> int:
    """Return how many are kept."""
    return len(list(folder.glob(DROPPED)))


def forget_outdated(folder: Path) -> None:
    """Delete what another model heard: it means nothing to this one."""
    for path in folder.glob(DROPPED):
        # A damaged one is told about when it is read.
        with suppress(CompanionError):
            if _read(path) is None:
                path.unlink()


def recall_dropped(folder: Path) -> tuple[Dropped, ...]:
    """Return what is kept, oldest first, less what another model heard.

    Raises CompanionError for a damaged file.
    """
    found = (_read(path) for path in sorted(folder.glob(DROPPED)))
    return tuple(one for one in found if one is not None)


def _read(path: Path) -> Dropped | None:
    damaged = _("The voice features in {path} are damaged.", path=path)
    with reading(path, damaged, _("Delete that file, or rehearse again: companion rehearse")) as stored:
        about = json.loads(str(stored["about"]))
        stretches, nats = stored["stretches"].astype(np.float32), stored["nats"].astype(np.float32)
        return Dropped(about["phrase"], stretches, nats) if about.get("model") == MODEL else None
