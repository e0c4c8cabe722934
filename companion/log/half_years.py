"""Half-years of lessons summed up, so that no look at many years reads every lesson.

The sums follow each append in its transaction: what a session counted for is taken out before its rows are
written anew, and put in again after. They are of all class groups together, but for the marks of each; one
class group's lessons are few enough to be counted as they are.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from companion.log.database import Database

OVER = "(summary.closed OR summary.settled)"
"""A lesson that goes on is not counted."""
LAST = "9998-H2"
"""No half-year ends later: the day after it has to be later than any other as a text, too."""
_HALF = "substr(opened_at, 1, 4) || CASE WHEN substr(opened_at, 6, 2) < '07' THEN '-H1' ELSE '-H2' END"
_HOUR = "CAST(substr(opened_at, 12, 2) AS INTEGER)"


@dataclass(frozen=True, slots=True)
class Sums:
    """A table of sums: the rows that it is made of, what they are told apart by, and what is summed."""

    table: str
    source: str
    keys: Mapping[str, str]
    """Names and their SQL over `source`, beside the half-year and whether a guest taught."""
    sums: Mapping[str, str]
    """Names and their SQL over one row of `source`: whole numbers."""

    def of_lessons(self, where: str, sign: str = "") -> str:
        """Return the SQL of the sums over the lessons of which `where` holds, by half-year."""
        keys = {"half": _HALF, "by_guest": "by_guest", **self.keys}
        columns = [f"{sql} AS {name}" for name, sql in keys.items()]
        columns += [f"{sign}sum({sql}) AS {name}" for name, sql in self.sums.items()]
        grouped = ", ".join(str(at + 1) for at in range(len(keys)))
        return f"SELECT {', '.join(columns)} FROM {self.source} WHERE {OVER} AND {where} GROUP BY {grouped}"  # noqa: S608


_MARKS = {"lessons": "1", "praise": "summary.praise", "reminder": "summary.reminder"}
GROUPS = Sums("half_group", "summary", {"class_group": "class_group"}, _MARKS)
RECOGNITIONS = Sums("half_recognition", "summary", {"recognition": "coalesce(recognition, '')"}, _MARKS)
HOURS = Sums("half_hour", "summary", {"hour": _HOUR}, _MARKS)
MARGINS = Sums(
    "half_margin",
    "summary",
    {"marked": "summary.praise + summary.reminder > 0", "margin": "margin"},
    {"lessons": "1"},
)
PHASES = Sums(
    "half_phase",
    "summary JOIN phase_held USING (session)",
    {"phase": "phase"},
    {
        "places": "place",
        "held": "1",
        "judged": "phase_held.praise + phase_held.reminder > 0",
        "praise": "phase_held.praise",
        "reminder": "phase_held.reminder",
        "named": "named",
    },
)
PHRASES = Sums(
    "half_phrase",
    "summary JOIN phrase_heard USING (session)",
    {"phrase": "phrase", "hour": _HOUR},
    {"correct": "correct", "wrong": "wrong", "missed": "missed"},
)
SOURCES = Sums(
    "half_source",
    "summary JOIN mark_source USING (session)",
    {"source": "source", "late": "late"},
    {"marks": "marks"},
)
AFTER = Sums(
    "half_after",
    "summary JOIN after_lesson USING (session)",
    {},
    {"lessons": "1", "steps": "steps", "work_ms": "CAST(round(1000 * work_s) AS INTEGER)"},
)
ALL = (GROUPS, RECOGNITIONS, HOURS, MARGINS, PHASES, PHRASES, SOURCES, AFTER)
TABLES = tuple(one.table for one in ALL)
_TEXTS = ("half", "class_group", "recognition", "phase", "phrase", "source")


def create(db: Database) -> None:
    """Make the tables."""
    for one in ALL:
        keys = ("half", "by_guest", *one.keys)
        columns = {name: str if name in _TEXTS else int for name in (*keys, *one.sums)}
        db.table(one.table).create(columns, pk=keys, strict=True)


def take_out(db: Database, session: str) -> None:
    """Take what a session counts for out of the sums, before its rows change, in the caller's transaction."""
    if _counts(db, session):
        _add(db, session, "-")
        for one in ALL:
            nothing = " AND ".join(f"{name} = 0" for name in one.sums)
            db.execute(f"DELETE FROM {one.table} WHERE {nothing}")  # noqa: S608 - names of our own


def put_in(db: Database, session: str) -> None:
    """Count what a session's rows say, in the caller's transaction."""
    if _counts(db, session):
        _add(db, session, "")


def count_anew(db: Database) -> None:
    """Make all sums anew of the sessions' rows, in the caller's transaction."""
    for one in ALL:
        db.execute(f"DELETE FROM {one.table}")  # noqa: S608 - names of our own
        db.execute(f"INSERT INTO {one.table} {one.of_lessons('true')}")


def _counts(db: Database, session: str) -> bool:
    sql = f"SELECT 1 FROM summary WHERE session = ? AND {OVER}"  # noqa: S608 - names of our own
    return db.execute(sql, [session]).fetchone() is not None


def _add(db: Database, session: str, sign: str) -> None:
    for one in ALL:
        keys = ", ".join(("half", "by_guest", *one.keys))
        grown = ", ".join(f"{name} = {name} + excluded.{name}" for name in one.sums)
        lessons = one.of_lessons("summary.session = :session", sign)
        db.execute(
            f"INSERT INTO {one.table} {lessons} ON CONFLICT ({keys}) DO UPDATE SET {grown}",
            {"session": session},
        )


def whole_halves(since: str, until: str) -> tuple[str, str]:
    """Return the first and the last half-year that lie wholly within two days; there is none if first > last.

    since, until: as in 2026-09-14, or a year alone for its beginning.
    """
    year, day = int(since[:4]), since[4:]
    first = f"{year + (day > '-07-01'):04}-H{1 if day <= '-01-01' or day > '-07-01' else 2}"
    year, day = int(until[:4]), until[4:]
    last = f"{year - (day < '-06-30'):04}-H{1 if '-06-30' <= day < '-12-31' else 2}"
    return first, min(last, LAST)


def begin_of(half: str) -> str:
    """Return the first day of a half-year."""
    return f"{half[:4]}-{'01' if half.endswith('H1') else '07'}-01"


def end_of(half: str) -> str:
    """Return the first day after a half-year."""
    return f"{half[:4]}-07-01" if half.endswith("H1") else f"{int(half[:4]) + 1:04}-01-01"
