"""Taking sessions out of the log for good: the one exception to append-only."""

from collections.abc import Sequence
from datetime import datetime

from sqlite_utils import Database
from ulid import ULID

from companion.log.care_rows import TABLES
from companion.log.schema import guard_events, unguard_events
from companion.log.store import SessionLog


def purge(log: SessionLog, sessions: Sequence[str], *, at: datetime) -> int:
    """Delete `sessions` for good, their words in the file included, and return how many there were.

    That something was purged, and when, stays on record; what it was does not.

    Raises CompanionError if the disk does not let us; nothing is deleted then.
    """
    with log.writing() as db:
        unguard_events(db)
        found = sum(_delete(db, session) for session in sessions)
        guard_events(db)
        if found:
            db.table("purge").insert({"id": str(ULID()), "at": at.isoformat(), "sessions": found})
    with log.reading() as db:
        # Deleted pages and the write-ahead log may still hold the words: both are written anew.
        db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        db.vacuum()
        db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    return found


def _delete(db: Database, session: str) -> int:
    for table in ("tally", "seal", *TABLES, "event"):
        db.table(table).delete_where("session = ?", [session])
    before = db.table("summary").count
    db.table("summary").delete_where("session = ?", [session])
    return before - db.table("summary").count


def sessions_before(log: SessionLog, day: datetime) -> list[str]:
    """Return the sessions that opened before `day`, oldest last."""
    return [summary.session for summary in log.summaries() if summary.opened_at < day]
