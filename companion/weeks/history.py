"""What a look at some weeks tells: gathered from the log."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from companion.lesson.trends import LessonHeld, RoutineCount
from companion.log.store import SessionLog
from companion.log.weeks import (
    TaughtAgain,
    Within,
    group_marks,
    lessons_held,
    phase_looks,
    routine_counts,
    taught_again,
)
from companion.weeks.cell import Cell, cells
from companion.weeks.coverage import Coverage, coverage
from companion.weeks.effect import Effect, effect
from companion.weeks.need import Need, needs
from companion.weeks.rates import Rate, rates

RECENT_WEEKS = 10
"""What needs to be taught again shows in the last weeks; what was mended in autumn is not named in spring."""
NEWEST_EFFECTS = 8


@dataclass(frozen=True, slots=True)
class TaughtEffect:
    """A routine that was taught again, and whether that helped."""

    taught: TaughtAgain
    what: str
    effect: Effect

    @property
    def sentence(self) -> str:
        """Say it with its numbers."""
        taught = self.taught
        return f"{taught.class_group} was taught {self.what} again on {taught.day}. {self.effect.sentence}"


@dataclass(frozen=True, slots=True)
class History:
    """What a look at some weeks tells."""

    within: Within
    lessons: int
    praise: int
    reminder: int
    needs: tuple[Need, ...]
    effects: tuple[TaughtEffect, ...]
    phases: tuple[Coverage, ...]


def history(log: SessionLog, within: Within, today: date) -> History:
    """Look at the lessons of `within`. What other class groups did says what is usual."""
    recent = _recent(within, today)
    groups = group_marks(log, within)
    return History(
        within,
        sum(group.lessons for group in groups),
        sum(group.praise for group in groups),
        sum(group.reminder for group in groups),
        needs(_cells(log, recent), lambda cell: within.class_group in (None, cell.class_group)),
        tuple(_effects(log, within)),
        coverage(phase_looks(log, within)),
    )


def _recent(within: Within, today: date) -> Within:
    """Return the last weeks of `within`, for all class groups."""
    last = min(today, date.max if within.until > today.isoformat() else date.fromisoformat(within.until))
    since = (last - timedelta(weeks=RECENT_WEEKS)).isoformat()
    return replace(within, class_group=None, since=max(since, within.since))


def _cells(log: SessionLog, within: Within) -> tuple[Cell, ...]:
    return cells(lessons_held(log, within), routine_counts(log, within))


def _effects(log: SessionLog, within: Within) -> list[TaughtEffect]:
    return [_effect(log, within, taught) for taught in taught_again(log, within)[:NEWEST_EFFECTS]]


def _effect(log: SessionLog, within: Within, taught: TaughtAgain) -> TaughtEffect:
    """Compare the lessons after the teaching with what those up to it lead one to expect."""
    before = Within(None, _begin(taught), taught.day, within.guests)
    cell, rate = known_before(lessons_held(log, before), routine_counts(log, before), taught)
    later = Within(taught.class_group, taught.day, within.until, within.guests)
    held = [lesson.id for lesson in lessons_held(log, later)]
    after = set(held[held.index(taught.session) + 1 :])
    needy = sum(
        (count.phase, count.routine) == (taught.phase, taught.routine) and count.reminder > count.praise
        for count in routine_counts(log, later)
        if count.lesson in after
    )
    return TaughtEffect(taught, cell.what, effect(rate, needy, len(after)))


def _begin(taught: TaughtAgain) -> str:
    """Return the first day of the weeks that say what was to be expected."""
    return (date.fromisoformat(taught.day) - timedelta(weeks=RECENT_WEEKS)).isoformat()


def known_before(
    lessons: Sequence[LessonHeld], counts: Iterable[RoutineCount], taught: TaughtAgain
) -> tuple[Cell, Rate]:
    """Return what was known of the routine when it was taught again, also if it never had a mark.

    lessons: of all class groups, oldest first, the one of the teaching among them. Only the last weeks up
    to the teaching are looked at.
    """
    begin = _begin(taught)
    looked_at = [lesson for lesson in lessons if begin <= lesson.day <= taught.day]
    ids = {lesson.id for lesson in looked_at}
    known = {(count.lesson, count.phase, count.routine): count for count in counts if count.lesson in ids}
    key = taught.session, taught.phase, taught.routine
    known.setdefault(key, RoutineCount(*key, 0, 0))
    all_cells = cells(looked_at, known.values())
    wanted = (taught.class_group, taught.phase, taught.routine)
    return next(
        (cell, rate)
        for cell, rate in zip(all_cells, rates(all_cells), strict=True)
        if (cell.class_group, cell.phase, cell.routine) == wanted
    )
