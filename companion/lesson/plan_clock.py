"""What the plan says of the time: when a phase is over by the clock, and what is left of it."""

from companion.lesson.event import PhaseBegan
from companion.lesson.mark import Source
from companion.lesson.plan import Advance
from companion.lesson.session import Session

MINUTE_MS = 60_000


def phase_due(session: Session, now_ms: int) -> PhaseBegan | None:
    """Return the beginning of the phase that the plan's clock opened by `now_ms`, if it did.

    Only a phase with `Advance.CLOCK` ends by the clock, its planned minutes after it really began.
    """
    current = session.phase
    planned = session.plan.phase(current.name) if current else None
    if current is None or planned is None or Advance.CLOCK not in planned.advance:
        return None
    following = session.plan.after(planned.name)
    ends_ms = current.began_ms + round(planned.minutes * MINUTE_MS)
    if following is None or now_ms < ends_ms:
        return None
    return PhaseBegan(following.name, ends_ms, Source.CLOCK)


def phase_left_ms(session: Session, now_ms: int) -> int | None:
    """Return the planned milliseconds left of the phase, negative when it is stretched, or None."""
    current = session.phase
    planned = session.plan.phase(current.name) if current else None
    if current is None or planned is None:
        return None
    return current.began_ms + round(planned.minutes * MINUTE_MS) - now_ms


def lesson_left_ms(session: Session, now_ms: int) -> int:
    """Return the planned milliseconds left of the whole lesson, negative when it is over its time."""
    return round(session.plan.minutes * MINUTE_MS) - now_ms
