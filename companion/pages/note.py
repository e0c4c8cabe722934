"""The hand-off note: one sheet for the class's own teacher."""

from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

from companion.lesson.handoff import (
    INFORMATION_LINE,
    NO_MARK_LINE,
    HandOffNote,
    as_text,
    hand_off_note,
    praised,
    private_lines,
    reminded,
)
from companion.lesson.session import Session
from companion.log.care import kept_for_note
from companion.pages.desk import Desk, desk_of


def show(request: Request) -> Response:
    """Show the note as it will be printed."""
    desk = desk_of(request)
    session = desk.session(request)
    note = _note(desk, session)
    return desk.page(
        "note.html",
        session=session,
        note=note,
        went_well=praised(note),
        to_work_on=reminded(note),
        private=private_lines(note),
        no_mark="" if note.marked or note.recognition else NO_MARK_LINE,
        information=INFORMATION_LINE,
        plain=as_text(note),
        unfinished_notes=len(session.notes) - len(note.notes),
        stamp=desk.stamp(session),
    )


def plain(request: Request) -> Response:
    """Return the note as plain text."""
    desk = desk_of(request)
    return PlainTextResponse(as_text(_note(desk, desk.session(request))))


def _note(desk: Desk, session: Session) -> HandOffNote:
    with desk.log() as log:
        return hand_off_note(session, tuple(kept_for_note(log, session)))
