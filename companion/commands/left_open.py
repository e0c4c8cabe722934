"""A session that was left open when the companion ended."""

from typing import Any

from companion.background.control import NotRunningError
from companion.commands.append import append_now
from companion.lesson.event import SessionClosed
from companion.lesson.mark import Source
from companion.log.store import open_log
from companion.paths import Home


def close_left_open(home: Home) -> dict[str, Any]:
    """Close the session that was left open at its last event, and return what is said of it.

    Raises CompanionError if there is none: then only a running companion could have one.
    """
    if not home.log.is_file():
        raise NotRunningError
    with open_log(home.log) as log:
        for summary in log.unsettled():
            if not summary.closed:
                session = log.session(summary.session)
                closed = append_now(log, session, SessionClosed(session.last_ms, Source.COMMAND_LINE))
                return {
                    "class_group": closed.class_group,
                    "praise": closed.praise,
                    "reminder": closed.reminder,
                }
    raise NotRunningError
