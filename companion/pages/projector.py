"""One window for the whole day: the class that is here, then the next one and what it brings.

The window goes from page to page by itself. Each of them is one for the class: nothing private, no control.
"""

import time
from datetime import datetime, timedelta

from starlette.requests import Request
from starlette.responses import Response

from companion.lesson.session import Session
from companion.log.care import awards_out
from companion.log.store import SessionLog
from companion.pages.desk import Desk, desk_of, stamp, then
from companion.pages.home import board_stamp, day_stamp, newest_event
from companion.pages.stream import streamed

LOOK_AGAIN_S = 2.0
"""How often the time alone may bring another page."""
TALK = timedelta(minutes=20)
"""So long after its end a lesson that is not settled is still being talked about."""
FAREWELL = timedelta(minutes=3)
"""So long a class that is settled sees what it takes home."""
BETWEEN = "/between"


def follow(request: Request) -> Response:
    """Lead the window to the page that the day has come to; from there it goes on by itself."""
    desk = desk_of(request)
    with desk.log() as log:
        return then(f"{page_of(log, desk.clock())}?day")


def between(request: Request) -> Response:
    """Show which class comes next, and what it brings."""
    desk = desk_of(request)
    choice = desk.port.choice()
    coming = choice.coming if choice else None
    with desk.log() as log:
        back = [lent.object for lent in awards_out(log, coming.class_group)] if coming else []
        return desk.page(
            "between.html",
            coming=coming,
            bring=choice.bring if choice else "",
            back=back,
            now=desk.clock(),
            stamp=board_stamp(log, desk),
            stream="/stream",
        )


def stream(request: Request) -> Response:
    """Tell the window the stamp of the page of the moment, and which page that is."""
    desk = desk_of(request)
    return streamed(desk, newest_event, _Look(desk).stamp)


def page_of(log: SessionLog, now: datetime) -> str:
    """Return the path of the class's page: of the lesson that goes on, of its reflection, or between two."""
    newest = log.summaries(most=1)
    if not newest:
        return BETWEEN
    if not newest[0].closed:
        return f"/live/{newest[0].session}/projector"
    session = log.session(newest[0].session)
    return f"/reflection/{session.id}/projector" if _talks(log, session, now) else BETWEEN


def _talks(log: SessionLog, session: Session, now: datetime) -> bool:
    """Whether a class whose lesson is over is still there to look at it."""
    if session.settled:
        return now - log.events(session.id)[-1].at < FAREWELL
    ended = session.opened_at + timedelta(milliseconds=session.closed_ms or 0)
    return bool(session.standing) and now - ended < TALK


class _Look:
    """Looks for the page of the moment, no oftener than anything can have changed it."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._seen: str | None = None
        self._page = BETWEEN
        self._seq = 0
        self._at_s = 0.0

    def stamp(self, newest: str) -> str:
        """Return the stamp and the path of the page, given what changes with every event."""
        now_s = time.monotonic()
        if newest != self._seen or now_s - self._at_s > LOOK_AGAIN_S:
            with self._desk.log() as log:
                self._page = page_of(log, self._desk.clock())
                self._seq = log.newest(self._session)
            self._seen, self._at_s = newest, now_s
        session = self._session
        stamped = stamp(self._seq, self._desk, session) if session else day_stamp(newest, self._desk)
        return f"{stamped} {self._page}"

    @property
    def _session(self) -> str:
        """The session that the page is about; "" between two."""
        return "" if self._page == BETWEEN else self._page.split("/")[2]
