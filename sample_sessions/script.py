"""What is to be heard in a sample: its `script.toml`, read and checked."""

import tomllib
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Line:
    """Something that one voice says."""

    say: str
    """The words; of a command those after the cue."""
    who: str = "teacher"
    command: bool = False
    """Whether it is a true command, to be said after the cue."""
    at_s: float | None = None
    """When it begins; without it `after_s` counts."""
    after_s: float = 1.2
    """How long after the end of the line before it begins."""
    far_m: float = 1.5
    """How far the mouth is from the microphone."""
    louder_db: float = 0.0
    slower: float = 1.0
    why: str = ""
    """Why the line must not count, where that is not plain from who says it."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """What the room does from `from_s` until the next stretch; strengths from 0 to 1."""

    from_s: float
    talk: float = 0.0
    dishes: float = 0.0
    water: float = 0.0


@dataclass(frozen=True, slots=True)
class Script:
    """Everything that is heard in one sample."""

    seed: int
    length_s: float
    teacher_to_room_db: float
    """The level of the teacher's commands over that of all else in the same moments, their median."""
    stretches: tuple[Stretch, ...]
    lines: tuple[Line, ...]


def read_script(folder: Path) -> Script:
    """Return the script in `folder`; an unknown key raises TypeError."""
    parts = tomllib.loads((folder / "script.toml").read_text(encoding="utf-8"))
    stretches = tuple(Stretch(**stretch) for stretch in parts.pop("stretches"))
    lines = tuple(Line(**line) for line in parts.pop("lines"))
    return Script(stretches=stretches, lines=lines, **parts)
