"""More events in a session of the log, recorded now."""

from collections.abc import Sequence
from datetime import datetime

from companion.lesson.event import Body
from companion.lesson.session import Session
from companion.log.store import SessionLog


def append_now(log: SessionLog, session: Session, body: Body) -> Session:
    """Record `body` after the lesson; the session's own time stands still at its last event.

    Raises CompanionError if the session can't take it.
    """
    return append_all_now(log, session, (body,))


def append_all_now(log: SessionLog, session: Session, bodies: Sequence[Body]) -> Session:
    """Record `bodies`, at least one, as `append_now` does: all of them or none."""
    return log.append_all(session.id, bodies, at=datetime.now().astimezone(), offset_ms=session.last_ms)
