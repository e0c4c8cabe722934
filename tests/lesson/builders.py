"""Sessions told event by event, for the tests of the pure core."""

from collections.abc import Iterable
from datetime import UTC, datetime

from companion.lesson import event as ev
from companion.lesson.fold import fold
from companion.lesson.mark import WHOLE_CLASS, Kind, Source
from companion.lesson.plan import Phase, Plan
from companion.lesson.recognition import Level
from companion.lesson.session import Session

PLAN = Plan(
    "garden lesson",
    (
        Phase("arrival", 3, ("boots at the door",)),
        Phase("work time", 20, ("one trowel, two turns", "stay at the bed")),
        Phase("cleanup", 7, ("tools back",)),
    ),
)
LEVELS = (Level("Harvest table", 5), Level("Green row", 2), Level("Turned soil", 0))
OPENED = ev.SessionOpened("4-Hazel", PLAN, LEVELS, ("one", "two"), "Garden and kitchen room")
AT = datetime(2026, 9, 14, 9, 10, tzinfo=UTC)


def events(*bodies: ev.Body) -> list[ev.Event]:
    """Return a session that opens and then has `bodies`, numbered from 2."""
    return [
        ev.Event(f"e{seq}", "s", seq, AT, getattr(body, "at_ms", None) or 0, body, f"e{seq}")
        for seq, body in enumerate((OPENED, *bodies), start=1)
    ]


def told(*bodies: ev.Body) -> Session:
    """Return the session of `events(*bodies)`."""
    return fold(events(*bodies))


def began(phase: str, at_ms: int, source: Source = Source.VOICE) -> ev.PhaseBegan:
    """Return the beginning of a phase."""
    return ev.PhaseBegan(phase, at_ms, source)


def praise(
    at_ms: int, confidence: float = 0.95, *, routine: str | None = None, scope: str = WHOLE_CLASS
) -> ev.MarkMade:
    """Return a praise by voice."""
    return ev.MarkMade(Kind.PRAISE, at_ms, Source.VOICE, scope, routine, "praise", confidence)


def reminder(at_ms: int, confidence: float = 0.95, *, routine: str | None = None) -> ev.MarkMade:
    """Return a reminder by voice."""
    return ev.MarkMade(Kind.REMINDER, at_ms, Source.VOICE, WHOLE_CLASS, routine, "reminder", confidence)


def many(body: ev.Body, times: int) -> Iterable[ev.Body]:
    """Return `body` `times` times over."""
    return (body for _ in range(times))
