"""What weeks of lessons are counted in: lessons, marks by routine, and the ratio with its uncertainty."""

import math
from dataclasses import dataclass

from companion.language import _, decimal, many
from companion.lesson.chance import share


def ratio_words(praise: int, reminder: int) -> str:
    """Return the praises for each reminder, with the interval, as a sentence."""
    if praise + reminder == 0:
        return _("No mark yet.")
    part = share(praise, praise + reminder)
    low, high = _ratio(part.low), _ratio(part.high)
    least = decimal(low, 1)
    if reminder == 0:
        return many(
            "{count} praise and no reminder (likely at least {least} praises for each reminder).",
            "{count} praises and no reminder (likely at least {least} praises for each reminder).",
            praise,
            least=least,
        )
    ratio = decimal(praise / reminder, 1)
    if math.isfinite(high):
        return _(
            "{ratio} praises for each reminder (likely {least} to {most}).",
            ratio=ratio,
            least=least,
            most=decimal(high, 1),
        )
    return _("{ratio} praises for each reminder (likely at least {least}).", ratio=ratio, least=least)


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
