"""Individual notes: the teacher's own panel, never for the class to see."""

from datetime import date

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response

from companion.errors import CompanionError
from companion.language import _, later
from companion.lesson import event as ev
from companion.lesson.mark import FamilyContact, NoteKind, Source
from companion.lesson.session import Session
from companion.pages.desk import Desk, desk_of, text, then

WAYS = (later("phone"), later("message"), later("letter"), later("in person"))
"""How a family is contacted."""


def show(request: Request) -> Response:
    """Show the individual notes of a session."""
    desk = desk_of(request)
    session = desk.session(request)
    return desk.page(
        "private.html",
        session=session,
        kinds=tuple(NoteKind),
        ways=WAYS,
        today=desk.clock().date(),
        stamp=desk.stamp(session),
    )


async def step(request: Request) -> Response:
    """Begin, complete or drop a note."""
    desk, session_id = desk_of(request), request.path_params["session"]
    form = await request.form()
    await run_in_threadpool(_step, desk, session_id, form)
    return then(f"/private/{session_id}")


def _step(desk: Desk, session_id: str, form: FormData) -> None:
    with desk.log() as log:
        session = log.session(session_id)
    desk.append(session, form, body_of(session, form, desk.port.now_ms(session)))


def body_of(session: Session, form: FormData, now_ms: int) -> ev.Body:
    """Return the event of one button of the panel.

    Raises CompanionError for a button or value that the page does not have.
    """
    note = text(form, "item")
    match text(form, "do"):
        case "open":
            at_ms = session.closed_ms if session.closed_ms is not None else max(session.last_ms, now_ms)
            return ev.NoteOpened(_kind(form), at_ms, Source.REVIEW)
        case "complete":
            child, line = text(form, "child", 12), text(form, "line", 200)
            return ev.NoteCompleted(note, child, _kind(form), line, _contact(form))
        case "drop":
            return ev.NoteDropped(note)
    raise CompanionError(_("This page has no such button."), remedy=_("Load it again."))


def _contact(form: FormData) -> FamilyContact | None:
    by, how, when = (text(form, name, 80) for name in ("by", "how", "when"))
    if not how:
        return None
    due = _day(text(form, "due"))
    if not by or not (when or due):
        raise CompanionError(
            _("The family contact is not complete."),
            safe=_("The note is as it was."),
            remedy=_("Say by whom and by when, or choose no contact."),
        )
    return FamilyContact(by, how, when, due)


def _day(said: str) -> date | None:
    try:
        return date.fromisoformat(said) if said else None
    except ValueError as error:
        raise CompanionError(
            _("'{said}' is no day.", said=said), remedy=_("Write it as in 2026-09-18.")
        ) from error


def _kind(form: FormData) -> NoteKind:
    try:
        return NoteKind(text(form, "kind"))
    except ValueError as error:
        raise CompanionError(_("This page has no such kind of note."), remedy=_("Load it again.")) from error
