"""The tables of the session log and how they came about."""

from sqlite_utils import Database, Migrations

migrations = Migrations("session log")

EVENT_VERSION = 1
"""Version of the events' bodies that this program writes."""


@migrations()
def append_only_events(db: Database) -> None:
    """Make the table of events, which nothing can change or take away."""
    db.table("event").create(
        {
            "id": str,
            "session": str,
            "seq": int,
            "at": str,
            "offset_ms": int,
            "kind": str,
            "version": int,
            "body": str,
        },
        pk="id",
        not_null={"session", "seq", "at", "offset_ms", "kind", "version", "body"},
        strict=True,
    )
    db.table("event").create_index(["session", "seq"], unique=True)
    guard_events(db)


@migrations()
def summaries(db: Database) -> None:
    """Make the tables that history reads; both can be made again from the events."""
    db.table("summary").create(
        {
            "session": str,
            "class_group": str,
            "opened_at": str,
            "plan": str,
            "room": str,
            "praise": int,
            "reminder": int,
            "margin": int,
            "recognition": str,
            "unreviewed": int,
            "closed": int,
            "settled": int,
            "carry_over": str,
        },
        pk="session",
        strict=True,
    )
    db.table("summary").create_index(["class_group", "opened_at"])
    db.table("summary").create_index(["opened_at"])
    db.table("tally").create(
        {"session": str, "phase": str, "routine": str, "praise": int, "reminder": int},
        pk=("session", "phase", "routine"),
        strict=True,
    )


@migrations()
def purges(db: Database) -> None:
    """Make the table that keeps when something was deleted for good, and how much, but not what."""
    db.table("purge").create({"id": str, "at": str, "sessions": int}, pk="id", strict=True)


def guard_events(db: Database) -> None:
    """Set the triggers that refuse to change or delete an event."""
    for verb in ("UPDATE", "DELETE"):
        db.execute(
            f"CREATE TRIGGER event_no_{verb.lower()} BEFORE {verb} ON event "
            "BEGIN SELECT RAISE(ABORT, 'the session log is append-only'); END"
        )


def unguard_events(db: Database) -> None:
    """Take the triggers away, inside the transaction of a purge."""
    for verb in ("update", "delete"):
        db.execute(f"DROP TRIGGER event_no_{verb}")
