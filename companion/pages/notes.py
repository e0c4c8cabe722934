"""The hand-off notes of today, to be printed in one job: one sheet a class."""

from datetime import date

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response
from ulid import ULID

from companion.language import speaking
from companion.lesson.aftercare import HandOver, NoteHandedOver
from companion.lesson.board import is_empty
from companion.lesson.handoff import INFORMATION_LINE
from companion.lesson.session import Session
from companion.log.store import SessionLog
from companion.pages.desk import Desk, desk_of, text, then, wish_of
from companion.pages.sheet import sheet_of

NEWEST = 40


def show(request: Request) -> Response:
    """Show the notes of today as they will be printed; a lesson that is not settled has none yet."""
    desk = desk_of(request)
    with desk.log() as log:
        sessions = sessions_of(log, desk.clock().date())
        with speaking(desk.note_language):
            sheets = [sheet_of(log, session) for session in sessions if session.settled]
    return desk.page(
        "notes.html",
        sheets_of_today=sheets,
        unsettled=[session for session in sessions if not session.settled],
        information=INFORMATION_LINE,
        now=desk.clock(),
    )


async def step(request: Request) -> Response:
    """Note that all sheets were printed."""
    desk, form = desk_of(request), await request.form()
    if text(form, "do") == "printed":
        await run_in_threadpool(_printed, desk, form)
    return then("/notes")


def _printed(desk: Desk, form: FormData) -> None:
    """Record that the sheets that were on the page are printed.

    One wish of the teacher's is an event in several sessions: each gets an id made from the wish's own.
    """
    wish = int(ULID.from_str(wish_of(form)))
    for place, session_id in enumerate(form.getlist("session")):
        printed = NoteHandedOver(HandOver.PRINTED)
        desk.port.append(str(session_id), (printed,), request=str(ULID.from_int(wish + place)))


def sessions_of(log: SessionLog, day: date) -> list[Session]:
    """Return the lessons of a day that are over and have something to tell, oldest first."""
    found = [
        log.session(one.session)
        for one in reversed(log.summaries(most=NEWEST))
        if one.closed and one.opened_at.astimezone().date() == day
    ]
    return [session for session in found if not is_empty(session)]
