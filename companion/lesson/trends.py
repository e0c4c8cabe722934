"""What weeks of lessons say: ratios with their uncertainty, and routines to teach again."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from companion.lesson.chance import Share, share

RECENT_LESSONS = 6
"""How many lessons of a class group count as recent: some three to six weeks of a specialist."""
LEAST_LESSONS = 3
"""In fewer lessons with a reminder a routine is not called one to teach again: that is chance."""


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
class TeachAgain:
    """A routine, or a phase where no routine was named, that needs to be taught again, and why."""

    phase: str
    routine: str
    lessons: Share
    """Recent lessons that needed a reminder for it, of all recent lessons."""
    reason: str


def teach_again(
    lessons: Sequence[str], counts: Iterable[RoutineCount], *, recent: int = RECENT_LESSONS
) -> tuple[TeachAgain, ...]:
    """Return the routines of one class group that need to be taught again, the neediest first.

    lessons: ids of its lessons, newest first. counts: what was marked in them.

    A routine is named when at least `LEAST_LESSONS` of the last `recent` lessons needed a reminder for it
    and the reminders outnumber the praises. Lessons are counted, not reminders, since several reminders
    in one lesson are one bad day.
    """
    newest = list(lessons[:recent])
    by_routine: dict[tuple[str, str], list[RoutineCount]] = {}
    for count in counts:
        if count.lesson in newest:
            by_routine.setdefault((count.phase, count.routine), []).append(count)
    found = []
    for (phase, routine), marked in by_routine.items():
        praise, reminder = sum(c.praise for c in marked), sum(c.reminder for c in marked)
        reminded = share(len({c.lesson for c in marked if c.reminder}), len(newest))
        if reminded.count >= LEAST_LESSONS and reminder > praise:
            reason = _reason(phase, routine, reminded, praise, reminder)
            found.append(TeachAgain(phase, routine, reminded, reason))
    return tuple(sorted(found, key=lambda again: (-again.lessons.low, again.phase, again.routine)))


def _reason(phase: str, routine: str, reminded: Share, praise: int, reminder: int) -> str:
    what = f"“{routine}” in {phase}" if routine else phase
    return (
        f"Teach {what} again: {reminded.count} of the last {reminded.total} lessons needed a reminder for it "
        f"({reminder} reminders, {praise} praise; likely {_tenths(reminded)} lessons)."
    )


def _tenths(part: Share) -> str:
    low, high = round(10 * part.low), round(10 * part.high)
    return f"{low} in 10" if low == high else f"{low} to {high} in 10"
