"""Cues learnt from synthetic voices, before anybody has rehearsed: ten come with the companion.

What is kept of a cue: its detector, where the voices say it (so that a teacher's takes are added to them and
not put in their place), and what the voices sound like (strangers, to count who else would make a mark).
`models/making/make_cues.py` makes the bundled ones; `listening/sources.md` says whose voices they are.
"""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from importlib import resources
from importlib.resources.abc import Traversable
from pathlib import Path

import numpy as np

from companion.errors import CompanionError
from companion.language import _
from companion.listening.detection.detector import Detector
from companion.listening.detection.learning import Stretches, bundled_others, said_in, teach
from companion.listening.detection.takes import speech_in, varied_windows
from companion.listening.phonemes.acoustic_model import MODEL, Looks, hear
from companion.listening.phonemes.pronunciation import words
from companion.listening.sound import Sound
from companion.listening.voice.files import SYNTHETIC, detector_entry, detector_of, reading, write_features
from companion.listening.voice.speaker import HeardSpeaker, heard_speaker
from companion.paths import private_folder

SUGGESTED = (
    "velvet compass", "cobalt pelican", "granite gondola", "copper zeppelin", "crimson telegraph",
    "marble dynamo", "scarlet monocle", "walnut periscope", "bronze albatross", "tundra lighthouse",
)  # fmt: skip
"""The cues that come with the companion: pairs of words that nobody says in a school otherwise."""
TRIED = 15
"""Times that each of them was said, by five voices that it was not learnt from, to count what is missed."""
MISSED_AT_5_DB = dict(zip(SUGGESTED, (2, 3, 0, 0, 0, 1, 3, 0, 0, 0), strict=True))
"""How often each was missed beneath a classroom's babble, by the firing points as they are set; in a quiet
room, and in one that is half as loud, none was (`models/README.md`)."""
VARIANTS_OF_EACH = 4
"""Variants of each synthetic take that are learnt from."""
SEEN_UNIT = 1 / 8
"""Of a standard deviation, in which what the classifier sees is kept."""


@dataclass(frozen=True, slots=True)
class SyntheticCue:
    """A phrase as synthetic voices say it."""

    detector: Detector
    """Learnt from them alone."""
    seen: Stretches
    """Where it is said in variants of what they say."""
    voices: tuple[HeardSpeaker, ...]


def learn_cue(phrase: str, takes: Sequence[Sound], others: Looks | None = None) -> SyntheticCue:
    """Learn a phrase from synthetic takes of it, some 20 seconds.

    others: what it is told from, in place of the bundled speech. Raises CompanionError when the phrase is not
    heard in them.
    """
    rng = np.random.default_rng(0)
    seen = said_in(phrase, hear(varied_windows(takes, VARIANTS_OF_EACH, rng)))
    if not len(seen):
        raise CompanionError(
            _("“{phrase}” can't be made out, whoever says it.", phrase=phrase),
            remedy=_("Choose other words: companion phrases"),
        )
    detector = teach(phrase, seen, others or bundled_others(), rng)
    return SyntheticCue(detector, seen, tuple(heard_speaker(take[slice(*speech_in(take))]) for take in takes))


def synthetic_cue(phrase: str, folder: Path | None) -> SyntheticCue | None:
    """Return the phrase as it comes with the companion or as it is kept in `folder`; None where it is not.

    Raises CompanionError for a damaged file.
    """
    for path in (
        resources.files("companion.listening.voice").joinpath("cues", cue_file(phrase)),
        *((folder / f"{SYNTHETIC}{cue_file(phrase)}",) if folder else ()),
    ):
        if path.is_file() and (cue := _read(path)) is not None:
            return cue
    return None


def synthetic_stretches(phrase: str, folder: Path | None) -> Stretches | None:
    """Return what a teacher's takes of the phrase are added to; None where there is nothing."""
    cue = synthetic_cue(phrase, folder)
    return cue.seen if cue else None


def keep_cue(folder: Path, cue: SyntheticCue) -> Path:
    """Keep what was learnt of a cue of one's own. Raises CompanionError when the disk does not let us."""
    return write_cue(private_folder(folder) / f"{SYNTHETIC}{cue_file(cue.detector.phrase)}", cue)


def write_cue(path: Path, cue: SyntheticCue) -> Path:
    """Write a cue into a file, and return it. Raises CompanionError when the disk does not let us."""
    unit = float(cue.seen.std()) * SEEN_UNIT
    write_features(
        path,
        {
            "detector": detector_entry(cue.detector),
            "unit": unit,
            "pitches_hz": [round(voice.pitch_hz, 1) for voice in cue.voices],
            "speech_s": [round(voice.speech_s, 2) for voice in cue.voices],
        },
        {
            "weights": cue.detector.weights.astype(np.float32),
            "seen": np.clip(np.rint(cue.seen / unit), -127, 127).astype(np.int8),
            "directions": np.stack([voice.direction for voice in cue.voices]).astype(np.float16),
            "warped": np.stack([voice.warped for voice in cue.voices]).astype(np.float16),
        },
    )
    return path


def cue_file(phrase: str) -> str:
    """Return the name of the file in which what was learnt of a cue is kept."""
    return "-".join(words(phrase)) + ".npz"


def _read(path: Traversable) -> SyntheticCue | None:
    """Return what a file holds; None where another model heard it."""
    damaged = _("The numbers of a cue in {path} are damaged.", path=path)
    remedy = _("Delete that file; learn it again with: companion rehearse --synthetic")
    with reading(path, damaged, remedy) as stored:
        about = json.loads(str(stored["about"]))
        if about.get("model") != MODEL:
            return None
        detector = detector_of(about["detector"], stored["weights"].astype(np.float64))
        seen = np.asarray(stored["seen"] * np.float32(about["unit"]), np.float32)
        directions, warped = stored["directions"].astype(np.float32), stored["warped"].astype(np.float32)
        known = zip(directions, about["pitches_hz"], about["speech_s"], warped, strict=True)
        voices = tuple(HeardSpeaker(way, hz, s, warped=warps) for way, hz, s, warps in known)
    return SyntheticCue(detector, seen, voices)
