"""Lessons of Alder Lane School, written into a real session log, for the tests of the pages."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

from companion.lesson import event as ev
from companion.lesson.command import Action, Command
from companion.lesson.mark import WHOLE_CLASS, FamilyContact, Kind, NoteKind, Source, table_scope
from companion.lesson.plan import Phase, Plan
from companion.lesson.recognition import Level
from companion.lesson.session import Session
from companion.log.store import SessionLog, open_log

PLAN = Plan(
    "garden and kitchen",
    (
        Phase("arrival", 3, ("walk in on the path", "find your table")),
        Phase("opening", 5, ("face the board",)),
        Phase("instruction", 8, ("face the board", "hands wait")),
        Phase("work time", 18, ("one trowel, two turns", "kitchen voices")),
        Phase("stop signal", 1, ("freeze and look",)),
        Phase("cleanup", 6, ("rinse, dry, hang up", "sweep your own patch")),
        Phase("line-up", 3, ("stand ready at the gate",)),
    ),
)
LEVELS = (Level("Full Basket", 7), Level("Half Basket", 4), Level("First Sprout", 1))
MINUTE = 60_000
OPENED = datetime(2026, 11, 24, 10, 15, tzinfo=UTC)
CARRY_OVER = "Last time the hoses were left running. Show how we close the tap."


def at(minutes: float) -> int:
    """Return a moment of the lesson in milliseconds."""
    return round(minutes * MINUTE)


def heard(
    kind: Kind, minutes: float, confidence: float, *, routine: str | None = None, scope: str = WHOLE_CLASS
) -> ev.MarkMade:
    """Return a mark that was spoken."""
    phrase = "well done garden" if kind is Kind.PRAISE else "check yourselves"
    return ev.MarkMade(kind, at(minutes), Source.VOICE, scope, routine, phrase, confidence, "phonemes")


def pressed(kind: Kind, minutes: float, *, routine: str | None = None) -> ev.MarkMade:
    """Return a mark that was made with a key."""
    return ev.MarkMade(kind, at(minutes), Source.KEY, routine=routine)


BODIES: tuple[ev.Body, ...] = (
    ev.PhaseBegan("arrival", 0, Source.CLOCK),
    pressed(Kind.PRAISE, 1.4, routine="walk in on the path"),
    ev.PhaseBegan("opening", at(3.1), Source.VOICE),
    heard(Kind.PRAISE, 5.2, 0.97),
    ev.PhaseBegan("instruction", at(8.4), Source.KEY),
    heard(Kind.PRAISE, 8.6, 0.91, routine="face the board"),
    heard(Kind.REMINDER, 13.0, 0.62),
    ev.PhaseBegan("work time", at(16.2), Source.VOICE),
    pressed(Kind.PRAISE, 19.0, routine="one trowel, two turns"),
    heard(Kind.PRAISE, 22.5, 0.93, scope=table_scope("four")),
    ev.HearingLost(at(24.0), "the microphone was unplugged"),
    ev.HearingRegained(at(25.2)),
    heard(Kind.PRAISE, 27.1, 0.55),
    ev.NearMissHeard(
        "well done garden", at(28.0), 0.44, Command(Action.PRAISE), "phonemes", ("said in running talk",)
    ),
    ev.NoteOpened(NoteKind.HEALTH_OFFICE, at(29.0), Source.VOICE),
    heard(Kind.REMINDER, 31.2, 0.95, routine="kitchen voices"),
    ev.PhaseBegan("stop signal", at(34.0), Source.VOICE),
    ev.PhaseBegan("cleanup", at(35.3), Source.VOICE),
    heard(Kind.PRAISE, 37.0, 0.96, routine="rinse, dry, hang up"),
    heard(Kind.PRAISE, 38.4, 0.9),
    pressed(Kind.PRAISE, 40.0, routine="sweep your own patch"),
    ev.PhaseBegan("line-up", at(41.3), Source.KEY),
    heard(Kind.PRAISE, 42.9, 0.94, routine="stand ready at the gate"),
)
"""Twelve marks. Wrong: the praise at 8.6 (meant for the opening), the reminder at 13.0 (nobody said it) and
the praise at 27.1 (a reminder was said)."""
CLOSE = ev.SessionClosed(at(44.2), Source.CLOCK)
NOTE = ev.NoteCompleted(
    "n16",
    "K. T.",
    NoteKind.HEALTH_OFFICE,
    "cut finger, plaster, back after five minutes",
    FamilyContact("the teacher", "phone", "today before 15:00"),
)


def opened(class_group: str = "4-Hazel", carry_over: str = CARRY_OVER) -> ev.SessionOpened:
    """Return how every lesson begins."""
    return ev.SessionOpened(
        class_group,
        PLAN,
        LEVELS,
        ("one", "two", "three", "four"),
        "Garden and kitchen",
        "phonemes",
        carry_over,
    )


def record(log: SessionLog, session: Session, *bodies: ev.Body) -> Session:
    """Append events to a session, each at its own time."""
    for body in bodies:
        offset_ms = max(session.last_ms, getattr(body, "at_ms", 0) or 0)
        moment = session.opened_at + timedelta(milliseconds=offset_ms)
        session = log.append(session.id, body, at=moment, offset_ms=offset_ms)
    return session


def write_lesson(
    path: Path, *bodies: ev.Body, class_group: str = "4-Hazel", opened_at: datetime = OPENED
) -> Session:
    """Write a lesson into the log at `path`; by default the whole one, closed and not reviewed."""
    with open_log(path) as log:
        session = log.open_session(opened(class_group), opened_at)
        return record(log, session, *(bodies or (*BODIES, CLOSE)))
