"""The shape in which lessons are handed to other programs: tables, columns, types. Documented and stable.

A column is never renamed or given another meaning; new ones come at the end, and then `VERSION` rises.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from companion.lesson.class_group import grade_of
from companion.lesson.session import Session
from companion.log.week_rows import phases_held

VERSION = 1

Value = str | int | bool
TableRow = tuple[Value, ...]


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a table."""

    name: str
    kind: Literal["text", "whole", "yes or no"]
    means: str


@dataclass(frozen=True, slots=True)
class Shape:
    """A table, and how a session becomes rows of it."""

    name: str
    means: str
    columns: tuple[Column, ...]


SESSION = Column("session", "text", "the session's id, a ULID; the same in all tables")

SESSIONS = Shape(
    "sessions",
    "one row a lesson that is over",
    (
        SESSION,
        Column("class_group", "text", "name of the class group, as in 4-Hazel"),
        Column("grade", "text", "what stands before the first dash of that name"),
        Column("opened_at", "text", "when it was opened: ISO 8601 with the zone's offset"),
        Column("plan", "text", "name of the plan"),
        Column("room", "text", "name of the room; may be empty"),
        Column("praise", "whole", "praises that stand"),
        Column("reminder", "whole", "reminders that stand"),
        Column("margin", "whole", "praises minus reminders"),
        Column("recognition", "text", "the level that the class took home; empty for none"),
        Column("overruled", "yes or no", "whether the teacher set another level than the margin's"),
        Column("settled", "yes or no", "whether the count was settled with the class"),
        Column("by_guest", "yes or no", "whether a guest taught it"),
    ),
)
PHASES = Shape(
    "phases",
    "one row a phase that was held, also without a mark",
    (
        SESSION,
        Column("phase", "text", "name of the phase"),
        Column("place", "whole", "place of the phase in its plan, from 0 on"),
        Column("praise", "whole", "praises that stand in it"),
        Column("reminder", "whole", "reminders that stand in it"),
        Column("named_praise", "whole", "those praises that name a routine"),
    ),
)
MARKS = Shape(
    "marks",
    "one row a mark that stands",
    (
        SESSION,
        Column("mark", "text", "the mark's id, unique within its session"),
        Column("at_ms", "whole", "milliseconds from the opening to the begin of the phrase or press"),
        Column("phase", "text", "the phase that it counts in"),
        Column("kind", "text", "praise or reminder"),
        Column("scope", "text", "class, part of the class, or a table"),
        Column("routine", "text", "the routine that it names; empty for none"),
        Column("source", "text", "voice, key, page, command line or review"),
        Column("late", "yes or no", "whether it was added after the fact"),
    ),
)
TAUGHT = Shape(
    "taught_again",
    "one row a routine that was taught again in a lesson",
    (
        SESSION,
        Column("phase", "text", "the phase that it belongs to"),
        Column("routine", "text", "the routine; empty for the phase as a whole"),
    ),
)
NOTES = Shape(
    "individual_notes",
    "one row an individual note; only where these were asked for by name",
    (
        SESSION,
        Column("note", "text", "the note's id, unique within its session"),
        Column("at_ms", "whole", "milliseconds from the opening"),
        Column("kind", "text", "what it is about"),
        Column("child", "text", "initials or seat; empty while it is not completed"),
        Column("line", "text", "the teacher's line"),
    ),
)
SHAPES = (SESSIONS, PHASES, MARKS, TAUGHT)
"""What is handed over without being asked for by name: nothing about a single child."""


def rows_of(session: Session, shape: Shape) -> Iterator[TableRow]:
    """Yield the rows of a session in one of the tables."""
    match shape.name:
        case "sessions":
            yield _session_row(session)
        case "phases":
            for held in phases_held(session):
                yield tuple(held.values())
        case "marks":
            for mark in session.standing:
                yield (
                    session.id,
                    mark.id,
                    mark.at_ms,
                    mark.phase,
                    str(mark.kind),
                    mark.scope,
                    mark.routine or "",
                    str(mark.source),
                    mark.late,
                )
        case "taught_again":
            for taught in session.taught_again:
                yield session.id, taught.phase, taught.routine
        case "individual_notes":
            for note in session.notes:
                yield session.id, note.id, note.at_ms, str(note.kind), note.child, note.line


def _session_row(session: Session) -> TableRow:
    return (
        session.id,
        session.class_group,
        grade_of(session.class_group),
        session.opened_at.isoformat(),
        session.plan.name,
        session.room,
        session.praise,
        session.reminder,
        session.margin,
        session.recognition or "",
        session.overruled is not None,
        session.settled,
        session.by_guest,
    )
