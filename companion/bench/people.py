"""Who speaks in the benchmark: as the recordings' names say, else by the likeness of the voices."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from companion.listening.detection.takes import speech_in
from companion.listening.sound import Sound
from companion.listening.voice.speaker import heard_speaker

ONE_PERSON = 0.75
"""Cosine from which two recordings count as of one person (in silence people differ by 0.7 at most)."""


@dataclass(frozen=True)
class Recording:
    """A recording of one phrase."""

    sound: Sound
    speaker: str = ""
    """Who speaks; empty where nobody said so."""

    @cached_property
    def direction(self) -> NDArray[np.float32]:
        """What the voice sounds like to the speaker network: of unit length."""
        return heard_speaker(self.sound[slice(*speech_in(self.sound))]).direction


def likeness(one: Recording, other: Recording) -> float:
    """Return how alike two voices are, 1 at most."""
    return float(one.direction @ other.direction)


def same_person(one: Recording, other: Recording) -> bool:
    """Say whether one person speaks in both, by the names if both have one, else by their likeness."""
    if one.speaker and other.speaker:
        return one.speaker == other.speaker
    return likeness(one, other) >= ONE_PERSON


def of_other_people(clips: Sequence[Recording], takes: Sequence[Recording]) -> list[Recording]:
    """Return the clips in which nobody speaks whom a take is of."""
    return [clip for clip in clips if not any(same_person(clip, take) for take in takes)]


@dataclass(frozen=True, slots=True)
class People:
    """How many people speak in clips, and how alike the nearest of them is to a take."""

    count: int
    named: bool
    """Whether all clips say who speaks."""
    nearest: float | None
    """Highest cosine between a clip and a take; None without takes."""


def people(clips: Sequence[Recording], takes: Sequence[Recording]) -> People:
    """Return who speaks in the clips; whoever is alike to one of a group belongs to it."""
    group = list(range(len(clips)))
    for one, other in combinations(range(len(clips)), 2):
        if group[one] != group[other] and same_person(clips[one], clips[other]):
            old, new = group[other], group[one]
            group = [new if number == old else number for number in group]
    nearest = max((likeness(clip, take) for clip in clips for take in takes), default=None)
    return People(len(set(group)), all(clip.speaker for clip in clips), nearest)
