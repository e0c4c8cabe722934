"""Another table of levels tried on sessions of the past, before it is changed."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from companion.lesson.recognition import Level, level_for
from companion.log.weeks import MarginCount


@dataclass(frozen=True, slots=True)
class Tried:
    """How many lessons earn a level by the table in use and by the other one."""

    level: str
    """Empty: no level."""
    now: int
    then: int


def tried(now: Sequence[Level], then: Sequence[Level], margins: Iterable[MarginCount]) -> tuple[Tried, ...]:
    """Return both tables side by side on the margins of lessons, the highest level first.

    A lesson without a mark earns nothing. What was overruled is told as the margin would have it.
    """
    counts: tuple[Counter[str], Counter[str]] = (Counter(), Counter())
    for one in margins:
        for levels, count in zip((now, then), counts, strict=True):
            count[_level(levels, one.margin)] += one.lessons
    names = dict.fromkeys(
        level.name for level in sorted((*now, *then), key=lambda level: -level.least_margin)
    )
    return tuple(Tried(name, counts[0][name], counts[1][name]) for name in (*names, ""))


def _level(levels: Sequence[Level], margin: int | None) -> str:
    level = None if margin is None else level_for(levels, margin)
    return level.name if level else ""
