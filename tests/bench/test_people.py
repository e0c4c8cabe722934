"""Whose voice a take is of is not tested."""

from pathlib import Path

import numpy as np
import soundfile

from companion.bench.folder import Labelled, draw, read_folder
from companion.bench.people import Recording, people
from companion.lesson.vocabulary import Vocabulary
from tests.listening import speakers

PRAISE = "shovel and bucket"


def folder_of(*clips: Recording) -> Labelled:
    """Return these clips of one phrase."""
    return Labelled(Vocabulary((PRAISE,)), {}, {PRAISE: list(clips)}, [], [])


def test_named_speaker_of_a_take_is_not_tested() -> None:
    """Whichever take is drawn, none of the clips that are left is of its speaker."""
    sound = speakers.say(PRAISE)
    labelled = folder_of(*(Recording(sound, name) for name in ("anna", "anna", "ben", "cleo", "cleo")))
    for seed in range(5):
        drawn = draw(labelled, 1, seed)
        (take,) = drawn.takes[PRAISE]
        assert take.speaker not in {clip.speaker for clip in drawn.clips[PRAISE]}
        assert len(drawn.clips[PRAISE]) + drawn.left_out == 4


def test_unnamed_speakers_are_told_by_the_sound_of_their_voices() -> None:
    """One voice at two paces is one person, another voice is another, and the take's is left out."""
    man, man_again, woman = (
        Recording(speakers.say(PRAISE, voice, pace))
        for voice, pace in (("flite:rms", 1.0), ("flite:rms", 1.15), ("flite:slt", 1.0))
    )
    heard = people([man, man_again, woman], [])
    assert (heard.count, heard.named, heard.nearest) == (2, False, None)
    drawn = draw(folder_of(man, man_again, woman), 1, seed=_seed_that_takes_first(3))
    assert [clip is woman for clip in drawn.clips[PRAISE]] == [True]
    assert drawn.left_out == 1


def test_takes_of_the_folder_are_the_teachers_who_is_tested(tmp_path: Path) -> None:
    """A file's name may say who speaks; nobody is left out where the folder has takes of its own."""
    for kind, name in (("clips", "1@anna"), ("clips", "2@ben"), ("takes", "3@anna")):
        path = tmp_path / kind / PRAISE / f"{name}.flac"
        path.parent.mkdir(parents=True, exist_ok=True)
        soundfile.write(path, speakers.say(PRAISE), 16_000)
    drawn = draw(read_folder(tmp_path), 1, 0)
    assert [clip.speaker for clip in drawn.clips[PRAISE]] == ["anna", "ben"]
    assert [take.speaker for take in drawn.takes[PRAISE]] == ["anna"]
    assert drawn.left_out == 0


def _seed_that_takes_first(count: int) -> int:
    return next(seed for seed in range(100) if np.random.default_rng(seed).permutation(count)[0] == 0)
