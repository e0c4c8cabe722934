"""What a look at some weeks tells: gathered from the log."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from companion.language import _
from companion.lesson.day_words import date_words
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
from companion.weeks.rates import Rate, Usual, rates, usual

RECENT_WEEKS = 10
"""What needs to be taught again shows in the last weeks; what was mended in autumn is not named in spring."""
NEWEST_EFFECTS = 8
NEXT_LESSONS = 12
"""What comes later has other reasons."""


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
        said = _(
            "{class_group} was taught {what} again on {day}.",
            class_group=taught.class_group,
            what=self.what,
            day=date_words(date.fromisoformat(taught.day)),
        )
        return f"{said} {self.effect.sentence}"


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
    lessons = lessons_held(log, recent)
    recent_cells = cells(lessons, routine_counts(log, recent))
    newest = taught_again(log, within, most=NEWEST_EFFECTS)
    known = usual(up_to_teaching(recent_cells, lessons, newest))
    groups = group_marks(log, within)
    return History(
        within,
        sum(group.lessons for group in groups),
        sum(group.praise for group in groups),
        sum(group.reminder for group in groups),
        needs(recent_cells, lambda cell: within.class_group in (None, cell.class_group), near=known),
        _effects(log, within, newest, known),
        coverage(phase_looks(log, within)),
    )


def _recent(within: Within, today: date) -> Within:
    """Return the last weeks of `within`, for all class groups."""
    last = min(today, date.max if within.until > today.isoformat() else date.fromisoformat(within.until))
    since = (last - timedelta(weeks=RECENT_WEEKS)).isoformat()
    return replace(within, class_group=None, since=max(since, within.since))


def _effects(
    log: SessionLog, within: Within, newest: Sequence[TaughtAgain], known: Usual
) -> tuple[TaughtEffect, ...]:
    """Compare the next lessons after each teaching with what those up to it lead one to expect."""
    looks = [_around(log, within, taught) for taught in newest]
    rates_before = known.rates([cell for cell, _, _ in looks])
    return tuple(
        TaughtEffect(taught, cell.what, effect(rate, needy, lessons))
        for taught, (cell, needy, lessons), rate in zip(newest, looks, rates_before, strict=True)
    )


def _around(log: SessionLog, within: Within, taught: TaughtAgain) -> tuple[Cell, int, int]:
    """Return the routine up to its teaching, and how many of the next lessons needed it, of how many."""
    own = Within(taught.class_group, _begin(taught), within.until, within.guests)
    lessons = lessons_held(log, own)
    counts = routine_counts(log, own, phase=taught.phase, routine=taught.routine)
    at = [lesson.id for lesson in lessons].index(taught.session) + 1
    after = {lesson.id for lesson in lessons[at : at + NEXT_LESSONS]}
    needy = sum(count.reminder > count.praise for count in counts if count.lesson in after)
    return cell_before(lessons[:at], counts, taught), needy, len(after)


def up_to_teaching(
    looked_at: Sequence[Cell], lessons: Sequence[LessonHeld], taught: Sequence[TaughtAgain]
) -> tuple[Cell, ...]:
    """Return the cells without what came after they were taught again, so that it is not expected.

    lessons: those that the cells are of.
    """
    places = {lesson.id: at for at, lesson in enumerate(lessons)}
    after: dict[tuple[str, str, str], int] = {}
    for one in taught:
        begin = places.get(one.session, -1) + 1
        later = sum(lesson.class_group == one.class_group for lesson in lessons[begin:])
        key = one.class_group, one.phase, one.routine
        after[key] = max(later, after.get(key, 0))
    cut = (
        _without_last(cell, after.get((cell.class_group, cell.phase, cell.routine), 0)) for cell in looked_at
    )
    return tuple(cell for cell in cut if cell.needy)


def _without_last(cell: Cell, lessons: int) -> Cell:
    return replace(cell, needy=cell.needy[:-lessons]) if lessons else cell


def _begin(taught: TaughtAgain) -> str:
    """Return the first day of the weeks that say what was to be expected."""
    return (date.fromisoformat(taught.day) - timedelta(weeks=RECENT_WEEKS)).isoformat()


def cell_before(lessons: Sequence[LessonHeld], counts: Iterable[RoutineCount], taught: TaughtAgain) -> Cell:
    """Return the routine in the lessons up to the teaching, also if it never had a mark."""
    return next(cell for cell in _cells_before(lessons, counts, taught) if _is_of(cell, taught))


def known_before(lessons: Sequence[LessonHeld], counts: Iterable[RoutineCount], taught: TaughtAgain) -> Rate:
    """Return what was known of the routine's rate when it was taught again, from the weeks before alone.

    lessons: of all class groups, oldest first, the one of the teaching among them.
    """
    looked_at = [lesson for lesson in lessons if _begin(taught) <= lesson.day <= taught.day]
    before = _cells_before(looked_at, counts, taught)
    return next(rate for cell, rate in zip(before, rates(before), strict=True) if _is_of(cell, taught))


def _cells_before(
    lessons: Sequence[LessonHeld], counts: Iterable[RoutineCount], taught: TaughtAgain
) -> tuple[Cell, ...]:
    """Return the cells of lessons, that of the teaching among them."""
    ids = {lesson.id for lesson in lessons}
    known = {(count.lesson, count.phase, count.routine): count for count in counts if count.lesson in ids}
    key = taught.session, taught.phase, taught.routine
    known.setdefault(key, RoutineCount(*key, 0, 0))
    return cells(lessons, known.values())


def _is_of(cell: Cell, taught: TaughtAgain) -> bool:
    return (cell.class_group, cell.phase, cell.routine) == (taught.class_group, taught.phase, taught.routine)
