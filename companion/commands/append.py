"""More events in a session of the log, recorded now."""

from datetime import datetime

from companion.lesson.event import Body
from companion.lesson.session import Session
from companion.log.store import SessionLog


def append_now(log: SessionLog, session: Session, *bodies: Body) -> Session:
    """Record `bodies` together after the lesson; the session's own time stands still at its last event.

    Raises CompanionError if the session can't take one of them; nothing is recorded then.
    """
    if not bodies:
        return session
    return log.append_all(session.id, bodies, at=datetime.now().astimezone(), offset_ms=session.last_ms)
