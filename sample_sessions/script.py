"""What is to be heard in a sample: its `script.toml`, read and checked."""

import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any


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


@dataclass(frozen=True, slots=True)
class Plan:
    """The parts of a `plan.toml` that the sound depends on."""

    cue: str
    phases: tuple[str, ...]
    minutes: tuple[float, ...]
    by_clock: tuple[bool, ...]
    """Whether a phase ends by itself after its minutes."""
    kinds: dict[str, str] = field(default_factory=dict)
    """What each phrase does: praise, reminder, next phase, phase, undo, note or pause listening."""
    opens: dict[str, str] = field(default_factory=dict)
    """The phase that a phrase opens, of those phrases that name one."""


def read_script(folder: Path) -> Script:
    """Return the script in `folder`; an unknown key raises TypeError."""
    parts = tomllib.loads((folder / "script.toml").read_text(encoding="utf-8"))
    stretches = tuple(Stretch(**stretch) for stretch in parts.pop("stretches"))
    lines = tuple(Line(**line) for line in parts.pop("lines"))
    return Script(stretches=stretches, lines=lines, **parts)


def read_plan(folder: Path) -> Plan:
    """Return the plan in `folder` of the lesson that its session names, phrases over tables spelt out."""
    parts = tomllib.loads((folder / "plan.toml").read_text(encoding="utf-8"))
    chosen = parts["session"]["plan"]
    [phases] = [plan["phases"] for plan in parts["plans"] if plan["name"] == chosen]
    kinds: dict[str, str] = {}
    opens: dict[str, str] = {}
    for phrase in parts["phrases"]:
        for say in _over_tables(phrase["say"], parts["school"]["tables"]):
            kinds[say] = phrase["does"]
            if "phase" in phrase:
                opens[say] = phrase["phase"]
    return Plan(
        cue=parts["listening"]["cue"],
        phases=tuple(phase["name"] for phase in phases),
        minutes=tuple(phase["minutes"] for phase in phases),
        by_clock=tuple(_by_clock(phase) for phase in phases),
        kinds=kinds,
        opens=opens,
    )


def _over_tables(say: str, tables: list[str]) -> list[str]:
    return [say.format(table=table) for table in tables] if "{table}" in say else [say]


def _by_clock(phase: dict[str, Any]) -> bool:
    advance = phase.get("advance", "phrase")
    return "clock" in ([advance] if isinstance(advance, str) else advance)
