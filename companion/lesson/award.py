"""The object that goes home with a level and comes back."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime

from companion.lesson.recognition import Level


@dataclass(frozen=True, slots=True)
class AwardOut:
    """An object that a class group took home with its recognition."""

    object: str
    since: datetime = field(compare=False)
    """When it went out, on the wall."""
    returned: datetime | None = field(default=None, compare=False)
    """When it came back; None while it is out."""

    @property
    def is_out(self) -> bool:
        """Whether the class group still has it."""
        return self.returned is None


@dataclass(frozen=True, slots=True)
class AwardBack:
    """What an earlier session gave out and the class brought back in this one."""

    origin: str
    """The session that it was earned in."""
    at: datetime = field(compare=False)


def award_of(levels: Iterable[Level], recognition: str | None) -> Level | None:
    """Return the level called `recognition`, if an object goes with it."""
    return next((level for level in levels if level.name == recognition and level.object), None)


def pieces_left(level: Level, out: Iterable[str]) -> int:
    """Return how many pieces of the level's object are here. out: the objects that are with a class now."""
    return max(0, level.pieces - sum(name == level.object for name in out))
