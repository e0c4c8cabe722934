"""The recognition that a class takes home, by the teacher's own table of levels."""

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Level:
    """One row of the teacher's table: reached by every margin of at least `least_margin`."""

    name: str
    least_margin: int
    object: str = ""
    """What goes home with it, in the teacher's own words; "": nothing does."""
    pieces: int = 1
    """How many of that object there are."""


def level_for(levels: Iterable[Level], margin: int) -> Level | None:
    """Return the highest level that `margin` reaches, or None below the lowest."""
    reached = [level for level in levels if level.least_margin <= margin]
    return max(reached, key=lambda level: level.least_margin, default=None)


def next_level(levels: Iterable[Level], margin: int) -> Level | None:
    """Return the lowest level that `margin` does not reach yet, or None at the top."""
    ahead = [level for level in levels if level.least_margin > margin]
    return min(ahead, key=lambda level: level.least_margin, default=None)
