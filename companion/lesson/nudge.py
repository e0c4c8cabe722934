"""A quiet nudge for the teacher's own practice: private, wished for, and never about a child."""

from dataclasses import dataclass

from companion.language import _, many
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
    tone: bool = False
    """Whether a soft tone is heard, too, once for each new reason."""


@dataclass(frozen=True, slots=True)
class Nudge:
    """A line for the teacher alone."""

    reason: str
    """What it is about; it stays the same while the minutes in `words` go on."""
    words: str


def nudges(session: Session, now_ms: int, wish: NudgeWish) -> tuple[Nudge, ...]:
    """Return what is to be said to the teacher alone; nothing where nobody teaches just now.

    now_ms: milliseconds since the session opened.
    """
    if session.closed or session.paused:
        return ()
    found = (
        _no_praise(session, now_ms, wish.no_praise_minutes),
        _silent_phase(session, now_ms) if wish.phase_without_mark else None,
        _balance(session) if wish.more_reminders else None,
    )
    return tuple(one for one in found if one)


def _no_praise(session: Session, now_ms: int, minutes: int) -> Nudge | None:
    praised = [mark.at_ms for mark in session.standing if mark.kind is Kind.PRAISE]
    since = (now_ms - max(praised, default=0)) // MINUTE_MS
    if not minutes or since < minutes:
        return None
    return Nudge("no praise", many("No praise for {count} minute.", "No praise for {count} minutes.", since))


def _silent_phase(session: Session, now_ms: int) -> Nudge | None:
    if len(session.phases) < 2:
        return None
    ended, current = session.phases[-2:]
    marked = any(mark.phase == ended.name for mark in session.standing)
    fresh = now_ms - current.began_ms <= PHASE_ENDED_MS
    if marked or not fresh:
        return None
    return Nudge(
        f"a silent phase at {current.began_ms}", _("{phase} ended without a mark.", phase=ended.name)
    )


def _balance(session: Session) -> Nudge | None:
    if len(session.standing) < FEW or session.reminder <= session.praise:
        return None
    words = _(
        "More reminders than praise so far: {reminder} to {praise}.",
        reminder=session.reminder,
        praise=session.praise,
    )
    return Nudge("more reminders", words)
