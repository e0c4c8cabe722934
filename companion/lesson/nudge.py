"""A quiet nudge for the teacher's own practice: private, wished for, and never about a child."""

from dataclasses import dataclass

from companion.lesson.counting import how_many
from companion.lesson.mark import Kind
from companion.lesson.session import Session

MINUTE_MS = 60_000
PHASE_ENDED_MS = 2 * MINUTE_MS
"""So long after it ended a phase without a mark is worth a word."""
FEW = 3
"""Fewer marks than this say nothing of a balance."""


@dataclass(frozen=True, slots=True)
class NudgeWish:
    """What the teacher wants to be told; nothing, unless it was asked for."""

    no_praise_minutes: int = 0
    """0: never."""
    phase_without_mark: bool = False
    more_reminders: bool = False


def nudge(session: Session, now_ms: int, wish: NudgeWish) -> str:
    """Return a line for the teacher alone, or "" where there is nothing to say.

    now_ms: milliseconds since the session opened.
    """
    if session.closed or session.paused:
        return ""
    return (
        _no_praise(session, now_ms, wish.no_praise_minutes)
        or (_silent_phase(session, now_ms) if wish.phase_without_mark else "")
        or (_balance(session) if wish.more_reminders else "")
    )


def _no_praise(session: Session, now_ms: int, minutes: int) -> str:
    praised = [mark.at_ms for mark in session.standing if mark.kind is Kind.PRAISE]
    since = (now_ms - max(praised, default=0)) // MINUTE_MS
    return f"No praise for {how_many(since, 'minute')}." if minutes and since >= minutes else ""


def _silent_phase(session: Session, now_ms: int) -> str:
    if len(session.phases) < 2:
        return ""
    ended, current = session.phases[-2:]
    marked = any(mark.phase == ended.name for mark in session.standing)
    fresh = now_ms - current.began_ms <= PHASE_ENDED_MS
    return f"{ended.name} ended without a mark." if fresh and not marked else ""


def _balance(session: Session) -> str:
    if len(session.standing) < FEW or session.reminder <= session.praise:
        return ""
    return f"More reminders than praise so far: {session.reminder} to {session.praise}."
