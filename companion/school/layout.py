"""The shape of what rooms share: one table, a row for each phase of a lesson. Documented and stable.

A column is never renamed or given another meaning; new ones come at the end, and then `VERSION` rises.
"""

from dataclasses import dataclass, fields
from datetime import date, timedelta

VERSION = 2
"""1 had no `revision`."""


@dataclass(frozen=True, slots=True)
class LessonPhase:
    """A phase of a lesson as a room shares it; nothing in it is about a single child."""

    school: str
    """Name of the school; class groups of other schools are others, whatever they are called."""
    room: str
    """A sign without meaning that stands for the room: neither its name nor the teacher's."""
    session: str
    """The session's id, by which a lesson that comes twice is counted once."""
    week: str
    """The Monday of its week, as in 2026-09-14."""
    class_group: str
    grade: str
    recognition: str
    """The level that the class took home; empty for none."""
    lesson: int
    """1 in one row of each lesson, 0 in its others: their sum is the number of lessons."""
    phase: str
    """Empty: marks that are in no phase of the plan."""
    place: int
    """Place of the phase in its plan, from 0 on."""
    held: int
    """1 where the phase was held, 0 where the row only tells of teaching again."""
    praise: int
    reminder: int
    named: int
    """Praises that name a routine."""
    taught: int
    """How many of its routines were taught again in this lesson."""
    known: int
    """How many teachings of its routines have become known with this lesson, the last that is waited for."""
    then_lessons: int
    """The lessons after those teachings."""
    then_needy: int
    """Those of them that needed a reminder: more reminders than praise."""
    then_expected: int
    """Thousandths of lessons that were to be expected to need one anyway."""
    then_spread: int
    """Thousandths: the variance of that expectation."""
    revision: int = 0
    """0 as the lesson was shared first; a higher one, of a count opened again, stands in its place."""


COLUMNS = {field.name: "VARCHAR" if field.type is str else "INTEGER" for field in fields(LessonPhase)}
"""The columns and their types, in SQL's words."""
COLUMNS_OF_1 = tuple(COLUMNS)[: list(COLUMNS).index("revision")]
"""The columns of version 1."""


def half_of(day: str) -> str:
    """Return the half-year of a day as in 2026-09-14."""
    return f"{day[:4]}-{'H1' if day[5:7] < '07' else 'H2'}"


def monday_of(day: str) -> str:
    """Return the Monday of the week of a day as in 2026-09-14."""
    of_day = date.fromisoformat(day)
    return f"{of_day - timedelta(days=of_day.weekday())}"
