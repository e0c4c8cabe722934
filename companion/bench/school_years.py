"""A believable school, year after year, as events in a log: the same one for the same seed."""

import math
import random
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from itertools import accumulate
from pathlib import Path
from zoneinfo import ZoneInfo

from ulid import ULID

from companion.lesson import aftercare
from companion.lesson import event as ev
from companion.lesson.mark import FamilyContact, Kind, NoteKind, Source
from companion.lesson.plan import Phase, Plan
from companion.lesson.recognition import Level
from companion.lesson.session import Session
from companion.log.store import SessionLog, open_log

WEEKS, SESSIONS_A_WEEK, CLASS_GROUPS = 36, 35, 40
ZONE = ZoneInfo("America/Chicago")
TREES = ("Hazel", "Rowan", "Alder", "Birch", "Oak", "Elder", "Willow", "Cherry")
PLAN = Plan(
    "garden and kitchen",
    (
        Phase("arrival", 3, ("boots at the door", "stand ready at the gate")),
        Phase("opening", 4, ("face the board",)),
        Phase("set up", 5, ("tap your pot twice", "palms on the bench")),
        Phase("work time", 22, ("one trowel, two turns", "kitchen voices")),
        Phase("cleanup", 6, ("rinse and hang up", "wash and dry hands")),
        Phase("line up", 3, ("stand ready at the gate",)),
    ),
)
LEVELS = (Level("Full basket", 8), Level("Half basket", 4), Level("First sprout", 1))
HOLIDAYS = (12, 17, 26)
"""Weeks of the school year in which there is no school, beside which the year has `WEEKS`."""
ON_LEAVE = range(20, 24)
"""Weeks of the second year in which a guest teaches."""
NEEDS_IT = 0.6
"""Share of its lessons in which a routine that needs to be taught again gets three reminders."""
BY_VOICE = 0.7
TAUGHT_AGAIN = 1 / 8
"""Share of a class group's lessons in which the routine that it needs is taught again."""
WITH_A_PROMISE, STILL_OPEN = 1 / 12, 1 / 10
"""Share of the lessons with a note that promises a family contact, and share of those that nobody ticks."""
HOURS = (time(8, 30), time(9, 15), time(10, 10), time(10, 55), time(12, 30), time(13, 15), time(14, 5))


@dataclass(frozen=True, slots=True)
class School:
    """How the class groups differ: the share of praise in each phase for each routine."""

    class_groups: tuple[str, ...]
    praise: dict[tuple[str, str, str], float]
    liveliness: dict[str, float]
    """Marks of a class group in relation to the mean."""
    needy: dict[str, tuple[str, str]]
    """The routine, by its phase, that a class group needs to be taught again, where there is one."""


def school(seed: int, class_groups: int = CLASS_GROUPS) -> School:
    """Return the class groups of a seed; every fifth has one routine that needs to be taught again."""
    chance = random.Random(seed)  # noqa: S311 - a simulation
    names = tuple(f"{1 + at // len(TREES)}-{TREES[at % len(TREES)]}" for at in range(class_groups))
    routines = [(phase.name, routine) for phase in PLAN for routine in (*phase.routines, "")]
    praise = {}
    for name in names:
        skill = chance.gauss(1.5, 0.5)
        for routine in routines:
            praise[name, *routine] = 1 / (1 + math.exp(-skill - chance.gauss(0, 0.4)))
    liveliness = {name: chance.uniform(0.6, 1.4) for name in names}
    return School(names, praise, liveliness, {name: chance.choice(routines) for name in names[::5]})


def fill(
    path: Path, sessions: int, *, marks_each: float = 11.4, seed: int = 1, ends: datetime | None = None
) -> None:
    """Write `sessions` into the new log at `path`, the last of them in the week before `ends`.

    marks_each: marks of a session in the mean. Nothing is synced before the end: a crash loses all.
    """
    chance, aside = random.Random(seed), random.Random(f"{seed} aside")  # noqa: S311 - a simulation
    rooms = school(seed)
    with open_log(path) as log:
        with log.reading() as db:
            db.execute("PRAGMA synchronous = OFF")
        for number, (week, class_group, opened_at) in enumerate(_calendar(rooms, sessions, ends)):
            marks = max(0, round(chance.gauss(marks_each * rooms.liveliness[class_group], 3)))
            by_guest = week in ON_LEAVE and number // (WEEKS * SESSIONS_A_WEEK) == 1
            made = _marks(rooms, chance, class_group, marks)
            session = _hold(log, class_group, opened_at, made, by_guest=by_guest)
            _care_for(log, session, rooms.needy.get(class_group), aside)


def _calendar(rooms: School, sessions: int, ends: datetime | None) -> Iterator[tuple[int, str, datetime]]:
    """Yield week of the school year, class group and opening of each session, in the order of time."""
    ends = ends or datetime.now(ZONE)
    weeks = -(-sessions // SESSIONS_A_WEEK)
    school_weeks = [week for week in range(WEEKS + len(HOLIDAYS)) if week not in HOLIDAYS]
    days = []
    for back in range(weeks):
        year, at = divmod(back, WEEKS)
        days.append((school_weeks[-1 - at], 52 * year + school_weeks[-1] - school_weeks[-1 - at] + 1))
    monday = ends.date() - timedelta(days=ends.weekday())
    number = 0
    for week, weeks_ago in reversed(days):
        for slot in range(min(SESSIONS_A_WEEK, sessions - number)):
            day = monday - timedelta(weeks=weeks_ago) + timedelta(days=slot // len(HOURS))
            opened_at = datetime.combine(day, HOURS[slot % len(HOURS)], ZONE)
            yield week, rooms.class_groups[number % len(rooms.class_groups)], opened_at
            number += 1


def _hold(
    log: SessionLog, class_group: str, opened_at: datetime, marks: Iterable[ev.MarkMade], *, by_guest: bool
) -> Session:
    opened = ev.SessionOpened(class_group, PLAN, LEVELS, ("one", "two", "three", "four"), "Garden room")
    session = str(ULID.from_datetime(opened_at))
    log.append(session, opened, at=opened_at, offset_ms=0)
    begun = [ev.PhaseBegan(phase.name, at, Source.VOICE) for phase, at in zip(PLAN, _edges(), strict=False)]
    during: list[ev.PhaseBegan | ev.MarkMade] = sorted([*begun, *marks], key=lambda body: body.at_ms)
    guest = (aftercare.SessionTaught(by_guest=True),) if by_guest else ()
    over_ms = _edges()[-1]
    end = (ev.SessionClosed(over_ms, Source.KEY), ev.SelfRated("went well"), ev.SessionSettled())
    return log.append_all(session, (*during, *guest, *end), at=opened_at, offset_ms=over_ms)


def _care_for(
    log: SessionLog, session: Session, needed: tuple[str, str] | None, chance: random.Random
) -> None:
    """Teach again now and then what the class needs, and promise a family contact, which is mostly done."""
    bodies: list[ev.Body] = []
    if needed and chance.random() < TAUGHT_AGAIN:
        bodies.append(aftercare.RoutineTaughtAgain(*needed))
    if chance.random() < WITH_A_PROMISE:
        day = session.opened_at.date() + timedelta(days=1)
        note = f"n{session.last_seq + len(bodies) + 1}"
        contact = FamilyContact("me", "a call", due=day)
        bodies.append(ev.NoteOpened(NoteKind.OTHER, session.last_ms, Source.PAGE))
        bodies.append(ev.NoteCompleted(note, "seat 9", NoteKind.OTHER, "left the gloves", contact))
        if chance.random() > STILL_OPEN:
            bodies.append(aftercare.PromiseKept(note, day))
    if bodies:
        log.append_all(session.id, bodies, at=session.opened_at, offset_ms=session.last_ms)


def _marks(rooms: School, chance: random.Random, class_group: str, marks: int) -> Iterator[ev.MarkMade]:
    names = [phase.name for phase in PLAN]
    for _ in range(marks):
        phase = chance.choice(PLAN.phases)
        routine = chance.choice((*phase.routines, ""))
        praised = chance.random() < rooms.praise[class_group, phase.name, routine]
        kind = Kind.PRAISE if praised else Kind.REMINDER
        yield _mark(chance, kind, names.index(phase.name), routine)
    if class_group in rooms.needy and chance.random() < NEEDS_IT:
        phase_name, routine = rooms.needy[class_group]
        for _ in range(3):
            yield _mark(chance, Kind.REMINDER, names.index(phase_name), routine)


def _mark(chance: random.Random, kind: Kind, place: int, routine: str) -> ev.MarkMade:
    at_ms = chance.randrange(*_edges()[place : place + 2])
    source = Source.VOICE if chance.random() < BY_VOICE else Source.KEY
    return ev.MarkMade(kind, at_ms, source, routine=routine or None, phrase=str(kind), confidence=0.95)


def _edges() -> list[int]:
    """Return where the phases begin, and the end of the last one, in milliseconds."""
    return list(accumulate((round(phase.minutes * 60_000) for phase in PLAN), initial=0))
