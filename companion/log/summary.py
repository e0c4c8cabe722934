"""A session in one row, so that history need not fold years of events."""

from collections import Counter
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from companion.lesson.board import to_look_at
from companion.lesson.mark import Kind
from companion.lesson.session import Session
from companion.log import half_years
from companion.log.care_rows import write_care
from companion.log.database import Database
from companion.log.week_rows import write_weeks


@dataclass(frozen=True, slots=True)
class Summary:
    """What history knows of a session."""

    session: str
    class_group: str
    opened_at: datetime
    plan: str
    room: str
    praise: int
    reminder: int
    margin: int
    recognition: str | None
    unreviewed: int
    closed: bool
    settled: bool
    carry_over: str
    lists_waiting: bool = False
    """Whether it was opened with all that waits to be said, and so uses up none of it unsaid."""
    by_guest: bool = False
    to_look_at: int = 0
    """Marks, near misses and individual notes that wait for a look."""

    @property
    def waits(self) -> bool:
        """Whether the lesson is over and not settled; one with nothing to look at waits for nothing."""
        return self.closed and not self.settled and bool(self.praise or self.reminder or self.to_look_at)


@dataclass(frozen=True, slots=True)
class Tally:
    """Standing marks of one session in one phase for one routine ("" where none was named)."""

    session: str
    phase: str
    routine: str
    praise: int
    reminder: int


def summary_of(session: Session) -> Summary:
    """Return the summary of `session`."""
    return Summary(
        session=session.id,
        class_group=session.class_group,
        opened_at=session.opened_at,
        plan=session.plan.name,
        room=session.room,
        praise=session.praise,
        reminder=session.reminder,
        margin=session.margin,
        recognition=session.recognition,
        unreviewed=len(session.unreviewed),
        closed=session.closed,
        settled=session.settled,
        carry_over=session.carry_over,
        lists_waiting=session.lists_waiting,
        by_guest=session.by_guest,
        to_look_at=to_look_at(session),
    )


def tallies_of(session: Session) -> list[Tally]:
    """Return the standing marks of `session` by phase and routine."""
    counts = Counter({(phase, routine, kind): number for phase, routine, kind, number in session.tally})
    return [
        Tally(
            session.id,
            phase,
            routine,
            counts[phase, routine, Kind.PRAISE],
            counts[phase, routine, Kind.REMINDER],
        )
        for phase, routine in dict.fromkeys((phase, routine) for phase, routine, _ in counts)
    ]


def write_summary(db: Database, session: Session) -> None:
    """Put the summary and tallies of `session` in place of the old ones, in the caller's transaction."""
    half_years.take_out(db, session.id)
    write_rows(db, session)
    half_years.put_in(db, session.id)


def write_rows(db: Database, session: Session) -> None:
    """Do what `write_summary` does, but for the sums of half-years, which do not follow."""
    summary = asdict(summary_of(session)) | {"opened_at": session.opened_at.isoformat()}
    db.table("summary").insert(summary, replace=True)
    db.table("tally").delete_where("session = ?", [session.id])
    db.table("tally").insert_all([asdict(tally) for tally in tallies_of(session)])
    write_care(db, session)
    write_weeks(db, session)


def summary_from(row: dict[str, Any]) -> Summary:
    """Return the summary in a row of the table."""
    return Summary(
        **row
        | {
            "opened_at": datetime.fromisoformat(row["opened_at"]),
            "closed": bool(row["closed"]),
            "settled": bool(row["settled"]),
            # A log that is only read may be from before these were kept.
            "lists_waiting": bool(row.get("lists_waiting")),
            "by_guest": bool(row.get("by_guest")),
            "to_look_at": row.get("to_look_at", row["unreviewed"]),
        }
    )
