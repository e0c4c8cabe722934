"""What is heard in the week: clips of the samples, with what is truly said in them, in other rooms' noise."""

import tomllib
from dataclasses import dataclass
from functools import cache

import numpy as np

from companion.lesson.mark import Kind
from companion.listening.microphone.files import blocks
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.samples.sample import bundled_sample, sample_names
from tests.week.timetable import SPOKEN_PHASES

BEFORE_S, AFTER_S = 1.0, 1.6
LEAST_QUIET_S = 1.5
"""A pause between two utterances that is worth taking as the sound of a room."""
ROOM_S = 12.0


@dataclass(frozen=True, slots=True)
class Clip:
    """A piece of a sample. phrase: the command that begins at `begin_s` and ends at `end_s`; "" for talk."""

    sound: Sound
    phrase: str
    kind: str
    begin_s: float = 0.0
    end_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Clips:
    """All that can be said and heard."""

    marks: tuple[Clip, ...]
    phases: dict[str, Clip]
    talk: tuple[Clip, ...]
    rooms: tuple[Sound, ...]

    def mixed(self, clip: Clip, chance: np.random.Generator) -> Clip:
        """Return `clip` at another loudness, in the noise of another room as well."""
        room = np.resize(self.rooms[chance.integers(len(self.rooms))], len(clip.sound))
        loudness, noise = 10 ** (chance.uniform(-4, 2) / 20), 10 ** (chance.uniform(-18, -3) / 20)
        sum_of_both = loudness * (clip.sound.astype(np.float64) + noise * room)
        sound = np.clip(sum_of_both, -32_768, 32_767).astype(np.int16)
        return Clip(sound, clip.phrase, clip.kind, clip.begin_s, clip.end_s)


@cache
def clips() -> Clips:
    """Cut the samples."""
    marks: list[Clip] = []
    phases: dict[str, Clip] = {}
    talk: list[Clip] = []
    rooms = []
    for name in sample_names():
        sample = bundled_sample(name)
        sound = np.concatenate(list(blocks(sample.sound)))
        truth = tomllib.loads((sample.folder / "truth.toml").read_text(encoding="utf-8"))
        for said in truth["spoken"]:
            clip = _cut(sound, said["begin_s"], said["end_s"], said["phrase"], said["kind"])
            if said["kind"] in set(Kind):
                marks.append(clip)
            elif said["phrase"] in SPOKEN_PHASES:
                phases.setdefault(said["phrase"], clip)
        talk += [_cut(sound, said["begin_s"], said["end_s"], "", "") for said in truth["talk"]]
        rooms.append(
            _room(sound, [(said["begin_s"], said["end_s"]) for said in truth["spoken"] + truth["talk"]])
        )
    return Clips(tuple(marks), phases, tuple(talk), tuple(rooms))


def _cut(sound: Sound, begin_s: float, end_s: float, phrase: str, kind: str) -> Clip:
    first = max(0, round((begin_s - BEFORE_S) * SAMPLE_RATE))
    piece = sound[first : round((end_s + AFTER_S) * SAMPLE_RATE)]
    offset_s = first / SAMPLE_RATE
    return Clip(piece, phrase, kind, begin_s - offset_s, end_s - offset_s)


def _room(sound: Sound, said: list[tuple[float, float]]) -> Sound:
    """Return what is heard of the room while nobody speaks to it, `ROOM_S` of it at most."""
    pieces, quiet_since_s = [], 0.0
    for begin_s, end_s in sorted(said):
        if begin_s - quiet_since_s >= LEAST_QUIET_S:
            pieces.append(sound[round(quiet_since_s * SAMPLE_RATE) : round(begin_s * SAMPLE_RATE)])
        quiet_since_s = max(quiet_since_s, end_s)
    return np.concatenate(pieces)[: round(ROOM_S * SAMPLE_RATE)]
