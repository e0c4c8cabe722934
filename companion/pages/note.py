"""The hand-off note: one sheet for the class's own teacher."""

from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

from companion.lesson.handoff import INFORMATION_LINE, as_text, hand_off_note, praised, private_line, reminded
from companion.pages.desk import desk_of


def show(request: Request) -> Response:
    """Show the note as it will be printed."""
    desk = desk_of(request)
    session = desk.session(request)
    note = hand_off_note(session)
    return desk.page(
        "note.html",
        session=session,
        note=note,
        went_well=praised(note),
        to_work_on=reminded(note),
        private=[private_line(entry) for entry in note.notes],
        information=INFORMATION_LINE,
        plain=as_text(note),
        unfinished_notes=len(session.notes) - len(note.notes),
        stamp=desk.stamp(session),
    )


def plain(request: Request) -> Response:
    """Return the note as plain text."""
    return PlainTextResponse(as_text(hand_off_note(desk_of(request).session(request))))
