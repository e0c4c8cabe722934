"""What weeks of lessons are counted in: lessons, marks by routine, and the ratio with its uncertainty."""

import math
from dataclasses import dataclass

from companion.lesson.chance import share


def ratio_words(praise: int, reminder: int) -> str:
    """Return the praises for each reminder, with the interval, as a sentence."""
    if praise + reminder == 0:
        return "No mark yet."
    part = share(praise, praise + reminder)
    low, high = _ratio(part.low), _ratio(part.high)
    if reminder == 0:
        return f"{praise} praises and no reminder (likely at least {low:.1f} praises for each reminder)."
    upper = f"{low:.1f} to {high:.1f}" if math.isfinite(high) else f"at least {low:.1f}"
    return f"{praise / reminder:.1f} praises for each reminder (likely {upper})."


def _ratio(part: float) -> float:
    return part / (1 - part) if part < 1 else math.inf


@dataclass(frozen=True, slots=True)
class RoutineCount:
    """Standing marks of one lesson in one phase for one routine ("" where none was named)."""

    lesson: str
    phase: str
    routine: str
    praise: int
    reminder: int


@dataclass(frozen=True, slots=True)
class LessonHeld:
    """A lesson as weeks know it."""

    id: str
    class_group: str
    plan: str
    day: str
    """As in 2026-09-14."""
