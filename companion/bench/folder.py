"""Reads a labelled folder of recordings; DEVELOPERS.md describes its format."""

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from companion.bench.people import Recording, of_other_people
from companion.errors import CompanionError
from companion.lesson.vocabulary import Vocabulary
from companion.listening.detection.takes import CUE, recordings, sound_files
from companion.listening.microphone.files import whole
from companion.listening.sound import Sound

SPEAKER_AFTER = "@"
"""What follows it in a file's name says who speaks: `003@anna.flac`."""


@dataclass(frozen=True, slots=True)
class Labelled:
    """The recordings of a benchmark folder, by what is said in them."""

    vocabulary: Vocabulary
    takes: Mapping[str, Sequence[Recording]]
    clips: Mapping[str, Sequence[Recording]]
    """Each clip holds its phrase once, in its whole spoken form."""
    talk: Sequence[Sound]
    """Speech in which nothing is said to the companion."""
    rooms: Sequence[Sound]
    """Noise of one's own, which clips are heard in beside the bundled noise."""
    unrelated: Sequence[Sound] = ()
    """The cue, and then something that is no command."""
    left_out: int = 0
    """Clips that are not tested, since a take is of the same speaker."""

    @property
    def sounds(self) -> dict[str, list[Sound]]:
        """The sound of the takes."""
        return {phrase: [take.sound for take in takes] for phrase, takes in self.takes.items()}


def read_folder(folder: Path) -> Labelled:
    """Read the folder. Raises CompanionError when it is missing or holds no clips."""
    clips = {path.name: _read(path) for path in _folders(folder / "clips")}
    clips = {phrase: found for phrase, found in clips.items() if found}
    if not clips:
        raise CompanionError(
            f"{folder} holds no clips.",
            remedy="Put recordings into clips/<phrase>/; DEVELOPERS.md describes the folder.",
        )
    takes = {path.name: _read(path) for path in _folders(folder / "takes")}
    settings = _settings(folder)
    cue = settings.get(CUE)
    if cue and CUE in takes:
        takes[cue] = takes.pop(CUE)
    return Labelled(
        Vocabulary(
            tuple(dict.fromkeys((*clips, *settings.get("phrases", ())))),
            cue=cue,
            language=settings.get("language", "en"),
        ),
        {phrase: found for phrase, found in takes.items() if found},
        clips,
        recordings(folder / "talk"),
        recordings(folder / "rooms"),
        recordings(folder / "unrelated"),
    )


def draw(labelled: Labelled, take_count: int, seed: int) -> Labelled:
    """Choose `take_count` takes of each phrase; phrases without takes give up some of their clips for it.

    Of clips that are given up, nobody's is tested whose voice a take is of. Takes that the folder has are
    the teacher's, who is to be heard again in the clips. With no takes all clips are tested.
    """
    rng = np.random.default_rng(seed)
    takes: dict[str, Sequence[Recording]] = {}
    clips = {phrase: list(found) for phrase, found in labelled.clips.items()}
    wanted = [*labelled.clips, labelled.vocabulary.cue] if labelled.vocabulary.cue else list(labelled.clips)
    given_up: list[Recording] = []
    for phrase in wanted:
        if phrase is None:
            continue
        source = labelled.takes.get(phrase)
        if source is None and labelled.vocabulary.cue:
            continue
        pool = list(source or clips[phrase])
        order = rng.permutation(len(pool))
        takes[phrase] = [pool[at] for at in order[:take_count]]
        if source is None:
            given_up += takes[phrase]
            clips[phrase] = [pool[at] for at in order[take_count:]]
    tested = {phrase: of_other_people(found, given_up) for phrase, found in clips.items()}
    left_out = sum(map(len, clips.values())) - sum(map(len, tested.values()))
    return replace(labelled, takes=takes, clips=tested, left_out=left_out)


def _read(folder: Path) -> list[Recording]:
    return [Recording(whole(path), path.stem.partition(SPEAKER_AFTER)[2]) for path in sound_files(folder)]


def _folders(folder: Path) -> list[Path]:
    return sorted(path for path in folder.iterdir() if path.is_dir()) if folder.is_dir() else []


def _settings(folder: Path) -> dict[str, Any]:
    path = folder / "bench.toml"
    return tomllib.loads(path.read_text("utf-8")) if path.is_file() else {}
