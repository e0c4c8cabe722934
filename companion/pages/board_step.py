"""The steps of the board: promises, awards, who taught, what was taught again, the note handed over."""

import re
from datetime import date

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response

from companion.errors import CompanionError
from companion.language import _
from companion.lesson import aftercare
from companion.lesson.aftercare import HandOver
from companion.lesson.event import Body
from companion.lesson.session import Session
from companion.pages.desk import Desk, day_in, desk_of, text, then
from companion.pages.undoing import undo_named

LONGEST = 200
BACK = re.compile(r"notes|next|(note|live|private)/\w+|reflection/\w+/teacher")
"""Pages other than the board whose buttons come here."""


async def step(request: Request) -> Response:
    """Take one step that looks after a session, and go back to the page that it was asked on."""
    desk, session_id = desk_of(request), request.path_params["session"]
    form = await request.form()
    await run_in_threadpool(_step, desk, session_id, form)
    back = text(form, "back")
    return then(f"/{back}" if BACK.fullmatch(back) else "/")


def _step(desk: Desk, session_id: str, form: FormData) -> None:
    with desk.log() as log:
        session = log.session(session_id)
    if text(form, "do") == "undo":
        undo_named(desk, session, form)
    else:
        desk.append(session, form, body_of(session, form, desk.clock().date()))


def body_of(session: Session, form: FormData, today: date) -> Body:  # noqa: PLR0911 - one case a button
    """Return the event of one button.

    Raises CompanionError for a button or value that the page does not have.
    """
    item = text(form, "item")
    match text(form, "do"):
        case "kept":
            on = day_in(text(form, "on")) or today
            return aftercare.PromiseKept(item, on, text(form, "line", LONGEST), bool(text(form, "tell")))
        case "moved":
            if (due := day_in(text(form, "due"))) is None:
                raise CompanionError(
                    _("No day was chosen."), remedy=_("Choose the day to which it is moved.")
                )
            return aftercare.PromiseMoved(item, due)
        case "dropped":
            return aftercare.PromiseDropped(item, text(form, "reason", LONGEST))
        case "returned":
            return aftercare.AwardReturned()
        case "guest" | "teacher" as who:
            return aftercare.SessionTaught(by_guest=who == "guest")
        case "taught-again":
            return taught_again(session, form)
        case "given":
            return aftercare.NoteHandedOver(HandOver.GIVEN)
    raise CompanionError(_("This page has no such button."), remedy=_("Load it again."))


def routines_of(session: Session) -> tuple[tuple[str, str], ...]:
    """Return the phases of the plan, each as a whole and then with each of its routines."""
    return tuple((phase.name, routine) for phase in session.plan for routine in ("", *phase.routines))


def taught_again(session: Session, form: FormData) -> aftercare.RoutineTaughtAgain:
    """Return that the routine which `form` names was taught again. Raises CompanionError if it names none."""
    known, what = routines_of(session), text(form, "what")
    if not what.isdecimal() or int(what) >= len(known):
        raise CompanionError(_("No routine was chosen."), remedy=_("Choose the one that was taught again."))
    return aftercare.RoutineTaughtAgain(*known[int(what)])
