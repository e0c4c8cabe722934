"""Weeks of lessons as the log knows them, counted by SQLite: no year of events is folded."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Any

from companion.lesson.trends import LessonHeld, RoutineCount
from companion.log import half_years
from companion.log.half_years import Sums
from companion.log.store import SessionLog


@dataclass(frozen=True, slots=True)
class Within:
    """Which lessons are looked at: those that are over, by class group and day."""

    class_group: str | None = None
    """None: all."""
    since: str = "0000"
    """The first day, as in 2026-09-01."""
    until: str = "9999"
    """The last day."""
    guests: bool = False
    """Whether lessons that a guest taught are looked at, too."""

    def holds(self) -> str:
        """Return the condition on a row of the table of summaries, with the values of `values`."""
        group = "" if self.class_group is None else "class_group = :class_group AND "
        days = "opened_at >= :since AND opened_at < :end"
        return f"{half_years.OVER} AND {group}{days} AND (:guests OR NOT by_guest)"

    def counted(self, sums: Sums, *by: str) -> str:
        """Return the SQL of `sums` over these lessons by some of their keys, with the values of `values`.

        Half-years that lie wholly within are read from their sums; what is left at both ends is counted
        lesson by lesson, and so is all of one class group.
        """
        columns = (*by, *(f"coalesce(sum({name}), 0) AS {name}" for name in sums.sums))
        grouped = f"GROUP BY {', '.join(by)}" if by else ""
        if self.class_group is not None:
            return f"SELECT {', '.join(columns)} FROM ({sums.of_lessons(self.holds())}) {grouped}"  # noqa: S608
        ends = "(opened_at >= :since AND opened_at < :begin OR opened_at >= :after AND opened_at < :end)"
        whose = "(:guests OR NOT by_guest)"
        return f"""
            SELECT {", ".join(columns)} FROM (
                {sums.of_lessons(f"{ends} AND {whose}")}
                UNION ALL SELECT * FROM {sums.table}
                WHERE half BETWEEN :first_half AND :last_half AND {whose}
            ) {grouped}
        """  # noqa: S608 - names of our own

    @property
    def values(self) -> dict[str, Any]:
        """The values of the condition's names."""
        first, last = half_years.whole_halves(self.since, self.until)
        begin, after = half_years.begin_of(first), half_years.end_of(last)
        if first > last:
            begin = after = self.since
        return {
            "class_group": self.class_group,
            "since": self.since,
            # Behind every time of the last day.
            "end": f"{self.until}~",
            "first_half": first,
            "last_half": last,
            "begin": begin,
            "after": after,
            "guests": self.guests,
        }


@dataclass(frozen=True, slots=True)
class Earned:
    """How often a recognition ("" for none) was earned in the span that begins on the day `begins`."""

    begins: str
    recognition: str
    sessions: int
    praise: int
    reminder: int


@dataclass(frozen=True, slots=True)
class GroupMarks:
    """The marks of one class group."""

    class_group: str
    lessons: int
    praise: int
    reminder: int


@dataclass(frozen=True, slots=True)
class PhaseLook:
    """A phase over many lessons: how often it was held, judged and praised."""

    phase: str
    place: float
    """Where it stands in the lesson, from 0 on; the mean over plans."""
    held: int
    """Lessons in which it was held."""
    judged: int
    """Lessons in which it got a mark."""
    praise: int
    reminder: int
    named: int
    """Praises that named a routine."""


@dataclass(frozen=True, slots=True)
class PhraseHeard:
    """A phrase over many lessons: heard right, heard falsely, and said but missed, by what reviews say."""

    phrase: str
    correct: int
    wrong: int
    missed: int

    @property
    def corrected(self) -> int:
        """How often a review had to put it right."""
        return self.wrong + self.missed


@dataclass(frozen=True, slots=True)
class PhraseHour:
    """A phrase in the lessons that begin in one hour of the day, as `PhraseHeard`."""

    phrase: str
    hour: int
    correct: int
    wrong: int
    missed: int


@dataclass(frozen=True, slots=True)
class AfterLessons:
    """The time that was worked on lessons after they were over."""

    lessons: int
    """Lessons with a step after their end."""
    steps: int
    work_s: float


@dataclass(frozen=True, slots=True)
class SourceCount:
    """Standing marks by where they came from."""

    source: str
    late: bool
    """Added after the fact."""
    marks: int


@dataclass(frozen=True, slots=True)
class HourCount:
    """Standing marks in the lessons that begin in one hour of the day."""

    hour: int
    lessons: int
    praise: int
    reminder: int


@dataclass(frozen=True, slots=True)
class MarginCount:
    """Lessons of one margin."""

    margin: int | None
    """None: without a mark."""
    lessons: int


@dataclass(frozen=True, slots=True)
class TaughtAgain:
    """A routine that was taught again in a lesson."""

    session: str
    class_group: str
    day: str
    phase: str
    routine: str


_WEEK = "date(substr(opened_at, 1, 10), 'weekday 0', '-6 days')"
_MONTH = "substr(opened_at, 1, 7) || '-01'"


class Unit(StrEnum):
    """What a stretch of time is told by."""

    WEEK = "week"
    MONTH = "month"
    HALF_YEAR = "half-year"


def first_day(log: SessionLog, within: Within) -> date | None:
    """Return the day of the first lesson; None if there is none."""
    sql = f"SELECT min(opened_at) FROM summary WHERE {within.holds()}"  # noqa: S608 - names of our own
    with log.reading() as db:
        found = db.execute(sql, within.values).fetchone()[0]
    return date.fromisoformat(found[:10]) if found else None


def earned(log: SessionLog, within: Within, unit: Unit = Unit.WEEK) -> list[Earned]:
    """Return recognitions and marks by week, month or half-year, oldest first."""
    if unit is Unit.HALF_YEAR:
        counted = within.counted(half_years.RECOGNITIONS, "half", "recognition")
        sql = f"""
            SELECT substr(half, 1, 4) || iif(half LIKE '%H1', '-01-01', '-07-01') AS begins, recognition,
                lessons AS sessions, praise, reminder
            FROM ({counted}) ORDER BY 1, 2
        """  # noqa: S608 - names of our own
    else:
        sql = f"""
            SELECT {_MONTH if unit is Unit.MONTH else _WEEK} AS begins,
                coalesce(recognition, '') AS recognition, count(*) AS sessions, sum(praise) AS praise,
                sum(reminder) AS reminder
            FROM summary WHERE {within.holds()} GROUP BY 1, 2 ORDER BY 1, 2
        """  # noqa: S608 - names of our own
    with log.reading() as db:
        return [Earned(**row) for row in db.query(sql, within.values)]


def group_marks(log: SessionLog, within: Within) -> list[GroupMarks]:
    """Return the marks of each class group."""
    sql = f"{within.counted(half_years.GROUPS, 'class_group')} ORDER BY class_group"
    with log.reading() as db:
        return [GroupMarks(**row) for row in db.query(sql, within.values)]


def lessons_held(log: SessionLog, within: Within) -> list[LessonHeld]:
    """Return the lessons, oldest first."""
    sql = f"""
        SELECT session AS id, class_group, plan, substr(opened_at, 1, 10) AS day
        FROM summary WHERE {within.holds()} ORDER BY julianday(opened_at), session
    """  # noqa: S608 - names of our own
    with log.reading() as db:
        return [LessonHeld(*row) for row in db.execute(sql, within.values)]


def routine_counts(
    log: SessionLog, within: Within, *, phase: str | None = None, routine: str | None = None
) -> list[RoutineCount]:
    """Return the standing marks of each lesson by phase and routine. phase, routine: only those of it."""
    sql = f"""
        SELECT session AS lesson, phase, routine, tally.praise, tally.reminder
        FROM summary JOIN tally USING (session) WHERE {within.holds()}
            AND (:phase IS NULL OR phase = :phase) AND (:routine IS NULL OR routine = :routine)
    """  # noqa: S608 - names of our own
    with log.reading() as db:
        rows = db.execute(sql, within.values | {"phase": phase, "routine": routine})
        return [RoutineCount(*row) for row in rows]


def phase_looks(log: SessionLog, within: Within) -> list[PhaseLook]:
    """Return the phases in the order of the lesson."""
    sql = f"""
        SELECT phase, 1.0 * places / held AS place, held, judged, praise, reminder, named
        FROM ({within.counted(half_years.PHASES, "phase")}) ORDER BY place, phase
    """  # noqa: S608 - names of our own
    with log.reading() as db:
        return [PhaseLook(**row) for row in db.query(sql, within.values)]


def phrases_heard(log: SessionLog, within: Within) -> list[PhraseHeard]:
    """Return how well each phrase was heard, the one that was corrected most first."""
    sql = f"{within.counted(half_years.PHRASES, 'phrase')} ORDER BY sum(wrong + missed) DESC, phrase"
    with log.reading() as db:
        return [PhraseHeard(**row) for row in db.query(sql, within.values)]


def phrase_hours(log: SessionLog, within: Within) -> list[PhraseHour]:
    """Return how each phrase that was ever put right was heard, by the hour in which lessons began."""
    counted = within.counted(half_years.PHRASES, "phrase", "hour")
    sql = f"{counted} HAVING sum(wrong + missed) > 0 ORDER BY phrase, hour"
    with log.reading() as db:
        return [PhraseHour(**row) for row in db.query(sql, within.values)]


def after_lessons(log: SessionLog, within: Within) -> AfterLessons:
    """Return the time from step to step after the lessons' ends: review, reflection and what follows.

    It is told from the wall times of what was recorded. Reading before the first step, and longer pauses than
    `week_rows.PAUSE_S`, are not in it, so it is rather too short.
    """
    with log.reading() as db:
        row = next(iter(db.query(within.counted(half_years.AFTER), within.values)))
    return AfterLessons(row["lessons"], row["steps"], row["work_ms"] / 1000)


def mark_sources(log: SessionLog, within: Within) -> list[SourceCount]:
    """Return the marks by where they came from, most first."""
    sql = f"{within.counted(half_years.SOURCES, 'source', 'late')} ORDER BY sum(marks) DESC, source"
    with log.reading() as db:
        return [SourceCount(**row | {"late": bool(row["late"])}) for row in db.query(sql, within.values)]


def hour_counts(log: SessionLog, within: Within) -> list[HourCount]:
    """Return the marks by the hour in which the lesson began, on the school's clock."""
    sql = f"{within.counted(half_years.HOURS, 'hour')} ORDER BY hour"
    with log.reading() as db:
        return [HourCount(**row) for row in db.query(sql, within.values)]


def taught_again(log: SessionLog, within: Within, *, most: int = -1) -> list[TaughtAgain]:
    """Return what was taught again, newest first. most: no more than so many; -1 for all."""
    sql = f"""
        SELECT session, class_group, substr(opened_at, 1, 10) AS day, phase, routine
        FROM summary JOIN taught_again USING (session) WHERE {within.holds()}
        ORDER BY julianday(opened_at) DESC, phase, routine LIMIT :most
    """  # noqa: S608 - names of our own
    with log.reading() as db:
        return [TaughtAgain(**row) for row in db.query(sql, within.values | {"most": most})]


def margins(log: SessionLog, within: Within) -> list[MarginCount]:
    """Return how many lessons came to each margin, lessons without a mark apart."""
    with log.reading() as db:
        rows = db.query(within.counted(half_years.MARGINS, "marked", "margin"), within.values)
        return [MarginCount(row["margin"] if row["marked"] else None, row["lessons"]) for row in rows]
