"""Another table of levels tried on sessions of the past, before it is changed."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from companion.lesson.recognition import Level, level_for


@dataclass(frozen=True, slots=True)
class Tried:
    """How many sessions earn a level by the table in use and by the other one."""

    level: str
    """Empty: no level."""
    now: int
    then: int


def tried(now: Sequence[Level], then: Sequence[Level], marks: Iterable[tuple[int, int]]) -> tuple[Tried, ...]:
    """Return both tables side by side on the praises and reminders of sessions, the highest level first.

    A session without a mark earns nothing. What was overruled is told as the margin would have it.
    """
    margins = [praise - reminder if praise + reminder else None for praise, reminder in marks]
    counts = [Counter(_level(levels, margin) for margin in margins) for levels in (now, then)]
    names = dict.fromkeys(
        level.name for level in sorted((*now, *then), key=lambda level: -level.least_margin)
    )
    return tuple(Tried(name, counts[0][name], counts[1][name]) for name in (*names, ""))


def _level(levels: Sequence[Level], margin: int | None) -> str:
    level = None if margin is None else level_for(levels, margin)
    return level.name if level else ""
