"""What ten lessons with reviews make of a voice: misses and false marks from lesson to lesson.

`python -m tests.listening.measure_reviews FOLDER`: FOLDER/<voice>/cue and /command as `say_for_reporting`
writes them. Each voice rehearses with four takes of the cue. In each of ten lessons four of its commands are
said beneath babble (3 to 12 dB); the cue in them is confirmed in the review, and kept as in a lesson. In the
fifth one review is bad: what another voice said is confirmed, too. After each lesson the voice is topped up,
if it hears no worse then. Heard are commands that no lesson had, once at 10 dB and twice at 5 dB, and the
first command of each other voice at 10 dB (seed 0; in brackets Wilson's 95 %).
"""

import multiprocessing
import sys
from pathlib import Path

import numpy as np

from companion.lesson.chance import share
from companion.lesson.vocabulary import Vocabulary
from companion.listening.detection.takes import babble, noisy, recordings
from companion.listening.microphone.recent import BEFORE_S
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.listening.spotter import hear_whole
from companion.listening.voice.enrolled_engine import new_spotter
from companion.listening.voice.features import (
    TakeFeatures,
    VoiceFeatures,
    rehearsed_features,
    reviewed_features,
)
from companion.listening.voice.learnt import Learnt
from companion.listening.voice.top_up import relearn, tried, trusted

CUE = Vocabulary(("velvet compass",))
LESSONS, SAID, TAKES, LEARNT_FROM = 10, 4, 4, 6
BAD_REVIEW = 4
Row = tuple[int, int, int, int, bool]
"""Missed and said, false marks and tries, whether a top-up was taken over."""


def beneath(sound: Sound, snr_db: float, rng: np.random.Generator) -> Sound:
    """Put a clip beneath babble, with a second and a half before it."""
    padded = np.pad(sound, (int(BEFORE_S * SAMPLE_RATE), SAMPLE_RATE))
    return noisy(padded, babble(rng, len(padded)), snr_db)


def marks(learnt: Learnt, sound: Sound) -> int:
    """Return how many marks a sound makes."""
    return sum(found.fired for found in hear_whole(new_spotter(CUE, learnt)(), sound))


def one_voice(folder: Path) -> list[Row]:
    """Return what is heard before the first lesson and after each."""
    rng = np.random.default_rng((0, *folder.name.encode()))
    said = recordings(folder / "command")
    others = [
        sound
        for path in sorted(folder.parent.iterdir())
        if path != folder
        for sound in recordings(path / "command")[:1]
    ]
    rehearsed = rehearsed_features(CUE, {CUE.phrases[0]: recordings(folder / "cue")[:TAKES]}, [])
    kept: list[TakeFeatures] = []
    alone = tried(CUE, rehearsed, ())
    learnt = relearn(CUE, rehearsed)
    rows = []
    for lesson in range(LESSONS + 1):
        over = False
        if lesson:
            heard = [said[at] for at in rng.integers(0, LEARNT_FROM, SAID)]
            heard += [others[int(rng.integers(len(others)))]] if lesson == BAD_REVIEW + 1 else []
            takes = [
                reviewed_features(CUE.phrases[0], beneath(one, rng.uniform(3, 12), rng)) for one in heard
            ]
            kept += [take for take in takes if take is not None]
            good = trusted(rehearsed, kept)
            if not tried(CUE, rehearsed, good).worse_than(alone):
                learnt, over = relearn(CUE, VoiceFeatures((*rehearsed.takes, *good), rehearsed.talk)), True
        test = np.random.default_rng(1)
        own = [beneath(one, snr, test) for one in said[LEARNT_FROM:] for snr in (10, 5, 5)]
        alien = [beneath(one, 10, test) for one in others]
        missed = sum(not marks(learnt, sound) for sound in own)
        rows.append((missed, len(own), sum(bool(marks(learnt, sound)) for sound in alien), len(alien), over))
    return rows


def main(folder: Path) -> None:
    """Print a line a lesson."""
    voices = [path for path in sorted(folder.iterdir()) if (path / "cue").is_dir()]
    with multiprocessing.get_context("fork").Pool() as pool:
        of_voices = pool.map(one_voice, voices, chunksize=1)
    for lesson, rows in enumerate(zip(*of_voices, strict=True)):
        missed, said, false, tries, over = (sum(column) for column in zip(*rows, strict=True))
        print(
            f"after {lesson:2} lessons: missed {_told(missed, said)}, marks by others {_told(false, tries)},"
            f" taken over by {over} of {len(rows)}"
        )


def _told(count: int, total: int) -> str:
    part = share(count, total)
    return f"{part.value:.1%} ({part.low:.0%}–{part.high:.0%}) of {total}"


if __name__ == "__main__":
    main(Path(sys.argv[1]))
