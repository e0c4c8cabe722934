"""The summaries made again from the events, which alone say what happened."""

from contextlib import suppress

from companion.errors import CompanionError
from companion.lesson.fold import fold
from companion.log import care_rows, half_years, week_rows
from companion.log.codec import event_of
from companion.log.database import Database
from companion.log.summary import write_rows

SUMMARIES_VERSION = 2
"""Raise it with every change of what a summary says; a log of before is then summed up anew."""
TABLES = ("summary", "tally", *care_rows.TABLES, *week_rows.TABLES, *half_years.TABLES)


def rebuild(db: Database) -> int:
    """Sum up every session anew, in the caller's transaction; return how many there are.

    One whose events can't be read keeps the summary that it has; what is damaged is told elsewhere.
    """
    sessions = [row["session"] for row in db.query("SELECT DISTINCT session FROM event ORDER BY session")]
    for session in sessions:
        rows = db.table("event").rows_where("session = ?", [session], order_by="seq")
        with suppress(CompanionError):
            write_rows(db, fold(event_of(row) for row in rows))
    half_years.count_anew(db)
    return len(sessions)


def rebuild_if_outdated(db: Database) -> None:
    """Sum up every session anew if an older version of the program summed them up."""
    if _version(db) < SUMMARIES_VERSION:
        with db.atomic():
            rebuild(db)
            db.execute(f"PRAGMA user_version = {SUMMARIES_VERSION}")


def differing(db: Database) -> list[str]:
    """Return the tables of summaries that say something else after `rebuild`, in the caller's transaction."""
    before = {table: _content(db, table) for table in TABLES}
    rebuild(db)
    return [table for table in TABLES if _content(db, table) != before[table]]


def _content(db: Database, table: str) -> list[tuple[object, ...]]:
    columns = ", ".join(f"[{column.name}]" for column in db.table(table).columns)
    rows = db.execute(f"SELECT {columns} FROM [{table}] ORDER BY {columns}")  # noqa: S608 - names of our own
    return list(rows.fetchall())


def _version(db: Database) -> int:
    return int(db.execute("PRAGMA user_version").fetchone()[0])
