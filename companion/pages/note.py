"""The hand-off note: one sheet for the class's own teacher."""

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

from companion.errors import CompanionError
from companion.language import _, speaking
from companion.lesson.aftercare import HandOver, NoteHandedOver
from companion.lesson.handoff import INFORMATION_LINE, as_text
from companion.pages.desk import desk_of, text, then
from companion.pages.sheet import sheet_of


def show(request: Request) -> Response:
    """Show the note as it will be printed."""
    desk = desk_of(request)
    with desk.log() as log:
        session = log.session(request.path_params["session"])
        with speaking(desk.note_language):
            sheet = sheet_of(log, session)
            plain = as_text(sheet.note)
    return desk.page(
        "note.html",
        session=session,
        sheet=sheet,
        information=INFORMATION_LINE,
        plain=plain,
        unfinished_notes=len(session.notes) - len(sheet.note.notes),
        stamp=desk.stamp(session),
    )


async def hand_over(request: Request) -> Response:
    """Record that the note was printed, copied or given."""
    desk, form = desk_of(request), await request.form()
    how = text(form, "do")
    if how not in tuple(HandOver):
        raise CompanionError(_("This page has no such button."), remedy=_("Load it again."))
    session = await run_in_threadpool(desk.session, request)
    await run_in_threadpool(desk.append, session, form, NoteHandedOver(HandOver(how)))
    return then(f"/note/{session.id}")


def plain(request: Request) -> Response:
    """Return the note as plain text."""
    desk = desk_of(request)
    with desk.log() as log:
        session = log.session(request.path_params["session"])
        with speaking(desk.note_language):
            return PlainTextResponse(as_text(sheet_of(log, session).note))
