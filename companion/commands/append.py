"""One more event in a session of the log, recorded now."""

from datetime import datetime

from companion.lesson.event import Body
from companion.lesson.session import Session
from companion.log.store import SessionLog


def append_now(log: SessionLog, session: Session, body: Body) -> Session:
    """Record `body` after the lesson; the session's own time stands still at its last event.

    Raises CompanionError if the session can't take it.
    """
    return log.append(session.id, body, at=datetime.now().astimezone(), offset_ms=session.last_ms)
