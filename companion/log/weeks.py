"""Weeks of lessons as the log knows them, counted by SQLite: no year of events is folded."""

from dataclasses import dataclass
from typing import Any

from companion.lesson.trends import LessonHeld, RoutineCount
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

    def holds(self, table: str = "summary") -> str:
        """Return the condition on a row of the table of summaries, with the values of `values`."""
        return (
            f"({table}.closed OR {table}.settled) AND {table}.opened_at >= :since"
            f" AND substr({table}.opened_at, 1, 10) <= :until"
            f" AND (:class_group IS NULL OR {table}.class_group = :class_group)"
            f" AND (:guests OR NOT {table}.by_guest)"
        )

    @property
    def values(self) -> dict[str, Any]:
        """The values of the condition's names."""
        return {
            "class_group": self.class_group,
            "since": self.since,
            "until": self.until,
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
    """A phase over many lessons of a class group: how often it was held, judged and praised."""

    class_group: str
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
    """Standing marks of one class group in the lessons that begin in one hour of the day."""

    class_group: str
    hour: int
    lessons: int
    praise: int
    reminder: int


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


def earned(log: SessionLog, within: Within, *, monthly: bool = False) -> list[Earned]:
    """Return recognitions and marks by week (or month), oldest first."""
    sql = f"""
        SELECT {_MONTH if monthly else _WEEK} AS begins, coalesce(recognition, '') AS recognition,
            count(*) AS sessions, sum(praise) AS praise, sum(reminder) AS reminder
        FROM summary WHERE {within.holds()} GROUP BY 1, 2 ORDER BY 1, 2
    """  # noqa: S608 - names of our own
    with log.reading() as db:
        return [Earned(**row) for row in db.query(sql, within.values)]


def group_marks(log: SessionLog, within: Within) -> list[GroupMarks]:
    """Return the marks of each class group."""
    sql = f"""
        SELECT class_group, count(*) AS lessons, sum(praise) AS praise, sum(reminder) AS reminder
        FROM summary WHERE {within.holds()} GROUP BY class_group ORDER BY class_group
    """  # noqa: S608 - names of our own
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


def routine_counts(log: SessionLog, within: Within) -> list[RoutineCount]:
    """Return the standing marks of each lesson by phase and routine."""
    sql = f"""
        SELECT session AS lesson, phase, routine, tally.praise, tally.reminder
        FROM summary JOIN tally USING (session) WHERE {within.holds()}
    """  # noqa: S608 - names of our own
    with log.reading() as db:
        return [RoutineCount(*row) for row in db.execute(sql, within.values)]


def phase_looks(log: SessionLog, within: Within) -> list[PhaseLook]:
    """Return the phases of each class group in the order of the lesson."""
    sql = f"""
        SELECT class_group, phase, avg(place) AS place, count(*) AS held,
            sum(phase_held.praise + phase_held.reminder > 0) AS judged, sum(phase_held.praise) AS praise,
            sum(phase_held.reminder) AS reminder, sum(named) AS named
        FROM summary JOIN phase_held USING (session) WHERE {within.holds()}
        GROUP BY class_group, phase ORDER BY class_group, avg(place), phase
    """  # noqa: S608 - names of our own
    with log.reading() as db:
        return [PhaseLook(**row) for row in db.query(sql, within.values)]


def phrases_heard(log: SessionLog, within: Within) -> list[PhraseHeard]:
    """Return how well each phrase was heard, the one that was corrected most first."""
    sql = f"""
        SELECT phrase, sum(correct) AS correct, sum(wrong) AS wrong, sum(missed) AS missed
        FROM summary JOIN phrase_heard USING (session) WHERE {within.holds()}
        GROUP BY phrase ORDER BY sum(wrong + missed) DESC, phrase
    """  # noqa: S608 - names of our own
    with log.reading() as db:
        return [PhraseHeard(**row) for row in db.query(sql, within.values)]


def phrase_hours(log: SessionLog, within: Within) -> list[PhraseHour]:
    """Return how each phrase that was ever put right was heard, by the hour in which lessons began."""
    sql = f"""
        SELECT phrase, CAST(substr(opened_at, 12, 2) AS INTEGER) AS hour, sum(correct) AS correct,
            sum(wrong) AS wrong, sum(missed) AS missed
        FROM summary JOIN phrase_heard USING (session) WHERE {within.holds()}
        GROUP BY phrase, hour HAVING sum(wrong + missed) > 0 ORDER BY phrase, hour
    """  # noqa: S608 - names of our own
    with log.reading() as db:
        return [PhraseHour(**row) for row in db.query(sql, within.values)]


def after_lessons(log: SessionLog, within: Within) -> AfterLessons:
    """Return the time from step to step after the lessons' ends: review, reflection and what follows.

    It is told from the wall times of what was recorded. Reading before the first step, and longer pauses than
    `week_rows.PAUSE_S`, are not in it, so it is rather too short.
    """
    sql = f"""
        SELECT count(*) AS lessons, coalesce(sum(steps), 0) AS steps, coalesce(sum(work_s), 0.0) AS work_s
        FROM summary JOIN after_lesson USING (session) WHERE {within.holds()}
    """  # noqa: S608 - names of our own
    with log.reading() as db:
        return AfterLessons(**next(iter(db.query(sql, within.values))))


def mark_sources(log: SessionLog, within: Within) -> list[SourceCount]:
    """Return the marks by where they came from, most first."""
    sql = f"""
        SELECT source, late, sum(marks) AS marks FROM summary JOIN mark_source USING (session)
        WHERE {within.holds()} GROUP BY source, late ORDER BY sum(marks) DESC, source
    """  # noqa: S608 - names of our own
    with log.reading() as db:
        return [SourceCount(**row | {"late": bool(row["late"])}) for row in db.query(sql, within.values)]


def hour_counts(log: SessionLog, within: Within) -> list[HourCount]:
    """Return the marks by class group and by the hour in which the lesson began, on the school's clock."""
    sql = f"""
        SELECT class_group, CAST(substr(opened_at, 12, 2) AS INTEGER) AS hour, count(*) AS lessons,
            sum(praise) AS praise, sum(reminder) AS reminder
        FROM summary WHERE {within.holds()} GROUP BY class_group, hour ORDER BY class_group, hour
    """  # noqa: S608 - names of our own
    with log.reading() as db:
        return [HourCount(**row) for row in db.query(sql, within.values)]


def taught_again(log: SessionLog, within: Within) -> list[TaughtAgain]:
    """Return what was taught again, newest first."""
    sql = f"""
        SELECT session, class_group, substr(opened_at, 1, 10) AS day, phase, routine
        FROM summary JOIN taught_again USING (session) WHERE {within.holds()}
        ORDER BY julianday(opened_at) DESC, phase, routine
    """  # noqa: S608 - names of our own
    with log.reading() as db:
        return [TaughtAgain(**row) for row in db.query(sql, within.values)]


def margins(log: SessionLog, within: Within) -> list[tuple[str, int, int, str | None]]:
    """Return session, praise, reminders and recognition of each lesson, oldest first."""
    sql = f"""
        SELECT session, praise, reminder, recognition FROM summary
        WHERE {within.holds()} ORDER BY julianday(opened_at), session
    """  # noqa: S608 - names of our own
    with log.reading() as db:
        return [tuple(row.values()) for row in db.query(sql, within.values)]
