"""Reads a labelled folder of recordings; DEVELOPERS.md describes its format."""

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from companion.errors import CompanionError
from companion.lesson.vocabulary import Vocabulary
from companion.listening.detection.takes import CUE, recordings
from companion.listening.sound import Sound


@dataclass(frozen=True, slots=True)
class Labelled:
    """The recordings of a benchmark folder, by what is said in them."""

    vocabulary: Vocabulary
    takes: Mapping[str, Sequence[Sound]]
    clips: Mapping[str, Sequence[Sound]]
    """Each clip holds its phrase once, in its whole spoken form."""
    talk: Sequence[Sound]
    """Speech in which nothing is said to the companion."""
    rooms: Sequence[Sound]
    """Noise to be mixed in; empty: the bundled babble."""
    unrelated: Sequence[Sound] = ()
    """The cue, and then something that is no command."""


def read_folder(folder: Path) -> Labelled:
    """Read the folder. Raises CompanionError when it is missing or holds no clips."""
    clips = {path.name: recordings(path) for path in _folders(folder / "clips")}
    clips = {phrase: found for phrase, found in clips.items() if found}
    if not clips:
        raise CompanionError(
            f"{folder} holds no clips.",
            remedy="Put recordings into clips/<phrase>/; DEVELOPERS.md describes the folder.",
        )
    takes = {path.name: recordings(path) for path in _folders(folder / "takes")}
    settings = _settings(folder)
    cue = settings.get(CUE)
    if cue and CUE in takes:
        takes[cue] = takes.pop(CUE)
    return Labelled(
        Vocabulary(tuple(clips), cue=cue, language=settings.get("language", "en")),
        {phrase: found for phrase, found in takes.items() if found},
        clips,
        recordings(folder / "talk"),
        recordings(folder / "rooms"),
        recordings(folder / "unrelated"),
    )


def draw(labelled: Labelled, take_count: int, seed: int) -> Labelled:
    """Choose `take_count` takes of each phrase; phrases without takes give up some of their clips for it.

    Speakers are not labelled, so a take's speaker may be heard again in a clip.
    """
    rng = np.random.default_rng(seed)
    takes: dict[str, Sequence[Sound]] = {}
    clips = {phrase: list(found) for phrase, found in labelled.clips.items()}
    wanted = [*labelled.clips, labelled.vocabulary.cue] if labelled.vocabulary.cue else list(labelled.clips)
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
            clips[phrase] = [pool[at] for at in order[take_count:]]
    return replace(labelled, takes=takes, clips=clips)


def _folders(folder: Path) -> list[Path]:
    return sorted(path for path in folder.iterdir() if path.is_dir()) if folder.is_dir() else []


def _settings(folder: Path) -> dict[str, str]:
    path = folder / "bench.toml"
    return tomllib.loads(path.read_text("utf-8")) if path.is_file() else {}
