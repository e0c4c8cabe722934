"""What a room has to share: its lessons, phase by phase, and whether teaching a routine again helped."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from companion.lesson.class_group import grade_of
from companion.lesson.trends import LessonHeld, RoutineCount
from companion.log.weeks import TaughtAgain
from companion.school.layout import LessonPhase, monday_of
from companion.weeks.history import known_before

THEN = 6
"""The lessons after a teaching that are waited for: what they say is told once and then stays."""
WAITS = timedelta(days=14)
"""A lesson whose count was never settled is shared all the same when it is as old as that."""


@dataclass(frozen=True, slots=True)
class SharedLesson:
    """A lesson that is over, with what the whole class took home."""

    held: LessonHeld
    settled: bool
    praise: int
    reminder: int
    recognition: str


@dataclass(frozen=True, slots=True)
class PhaseHeld:
    """A phase that was held in a lesson."""

    lesson: str
    phase: str
    place: int
    praise: int
    reminder: int
    named: int


@dataclass(frozen=True, slots=True)
class RoomLessons:
    """All that is read of a room, lessons in the order of time."""

    lessons: Sequence[SharedLesson]
    phases: Sequence[PhaseHeld]
    counts: Sequence[RoutineCount]
    taught: Sequence[TaughtAgain]


@dataclass(frozen=True, slots=True)
class Outcome:
    """What the lessons after a teaching came to."""

    lesson: str
    """The last of them, with which it has become known."""
    phase: str
    needy: int
    expected: float
    spread: float


def ripe(lesson: SharedLesson, today: date) -> bool:
    """Return whether the lesson may be shared: its week is over, and its count settled or given up."""
    day = date.fromisoformat(lesson.held.day)
    over = day - timedelta(days=day.weekday()) + timedelta(weeks=1) <= today
    return over and (lesson.settled or day + WAITS <= today)


def lesson_phases(school: str, room: str, found: RoomLessons, today: date) -> Iterator[LessonPhase]:
    """Yield the rows of all lessons of a room that may be shared on a day."""
    shared = [lesson for lesson in found.lessons if ripe(lesson, today)]
    phases: dict[str, list[PhaseHeld]] = defaultdict(list)
    for held in found.phases:
        phases[held.lesson].append(held)
    taught: dict[tuple[str, str], int] = defaultdict(int)
    for one in found.taught:
        taught[one.session, one.phase] += 1
    outcomes: dict[tuple[str, str], list[Outcome]] = defaultdict(list)
    for outcome in _outcomes([lesson.held for lesson in shared], found):
        outcomes[outcome.lesson, outcome.phase].append(outcome)
    taught_of: dict[str, dict[str, None]] = defaultdict(dict)
    for id_, phase in (*taught, *outcomes):
        taught_of[id_][phase] = None
    for lesson in shared:
        rows = [(held, 1) for held in _with_the_rest(lesson, phases[lesson.held.id])]
        there = {held.phase for held, _ in rows}
        rows += [
            (PhaseHeld(lesson.held.id, phase, 0, 0, 0, 0), 0)
            for phase in taught_of[lesson.held.id]
            if phase not in there
        ]
        for at, (held, was_held) in enumerate(rows):
            key = lesson.held.id, held.phase
            row = _row(school, room, lesson, held, outcomes[key])
            yield replace(row, lesson=int(at == 0), held=was_held, taught=taught[key])


def _with_the_rest(lesson: SharedLesson, phases: Sequence[PhaseHeld]) -> list[PhaseHeld]:
    """Return the phases of a lesson, and one without a name for marks that are in none of them."""
    praise = lesson.praise - sum(held.praise for held in phases)
    reminder = lesson.reminder - sum(held.reminder for held in phases)
    rest = PhaseHeld(lesson.held.id, "", len(phases), praise, reminder, 0)
    return [*phases, rest] if praise or reminder or not phases else [*phases]


def _row(
    school: str,
    room: str,
    lesson: SharedLesson,
    held: PhaseHeld,
    outcomes: Sequence[Outcome],
) -> LessonPhase:
    return LessonPhase(
        school=school,
        room=room,
        session=lesson.held.id,
        week=monday_of(lesson.held.day),
        class_group=lesson.held.class_group,
        grade=grade_of(lesson.held.class_group),
        recognition=lesson.recognition,
        lesson=0,
        phase=held.phase,
        place=held.place,
        held=0,
        praise=held.praise,
        reminder=held.reminder,
        named=held.named,
        taught=0,
        known=len(outcomes),
        then_lessons=THEN * len(outcomes),
        then_needy=sum(outcome.needy for outcome in outcomes),
        then_expected=round(1000 * sum(outcome.expected for outcome in outcomes)),
        then_spread=round(1000 * sum(outcome.spread for outcome in outcomes)),
    )


def _outcomes(lessons: Sequence[LessonHeld], found: RoomLessons) -> Iterator[Outcome]:
    """Yield what came of each teaching that enough lessons have followed."""
    needy = {(one.lesson, one.phase, one.routine) for one in found.counts if one.reminder > one.praise}
    for taught in found.taught:
        same = [lesson.id for lesson in lessons if lesson.class_group == taught.class_group]
        if taught.session not in same:
            continue
        at = same.index(taught.session)
        after = same[at + 1 : at + 1 + THEN]
        if len(after) == THEN:
            rate = known_before(lessons, found.counts, taught)
            yield Outcome(
                after[-1],
                taught.phase,
                sum((id_, taught.phase, taught.routine) in needy for id_ in after),
                THEN * rate.mean,
                rate.spread_of_next(THEN),
            )


def in_weeks(rows: Iterable[LessonPhase]) -> dict[str, list[LessonPhase]]:
    """Return the rows by their week."""
    weeks: dict[str, list[LessonPhase]] = defaultdict(list)
    for row in rows:
        weeks[row.week].append(row)
    return dict(sorted(weeks.items()))
