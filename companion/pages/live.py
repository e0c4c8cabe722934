"""The live page, safe to project, and its stream of changes."""

import sqlite3
from collections.abc import Callable
from contextlib import suppress

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response

from companion.errors import CompanionError
from companion.language import _
from companion.lesson.aftercare import AwardBroughtBack, SessionTaught
from companion.lesson.command import Action, Command
from companion.lesson.event import CarryOverSaid
from companion.lesson.mark import NoteKind
from companion.pages.board_step import taught_again
from companion.pages.desk import Desk, ago_of, desk_of, stamp, text, then, wish_of
from companion.pages.first import first_of
from companion.pages.port import WaitsError
from companion.pages.stream import streamed
from companion.pages.telling import as_told, just_told
from companion.pages.timeline import elapsed_ms, in_words, left_ms, line_of
from companion.pages.words import recognition_words, time_left
from companion.settings.pages import lights_of

BUTTONS = {
    "praise": Command(Action.PRAISE),
    "reminder": Command(Action.REMINDER),
    "undo": Command(Action.UNDO),
    "next": Command(Action.NEXT_PHASE),
    "pause": Command(Action.PAUSE),
    "resume": Command(Action.RESUME),
    "note": Command(Action.NOTE, note=NoteKind.OTHER),
    "tell": Command(Action.TELL),
}
"""What each button of the page asks for."""


def show(request: Request) -> Response:
    """Show a lesson to the teacher, with controls."""
    return _page(request, controls=True)


def projector(request: Request) -> Response:
    """Show a lesson to the class: no control, nothing private."""
    return _page(request, controls=False)


def _page(request: Request, *, controls: bool) -> Response:
    desk = desk_of(request)
    with desk.log() as log:
        session = log.session(request.path_params["session"])
        first = first_of(desk, log, session)
    shown = session if controls else as_told(session)
    now_ms = elapsed_ms(session, desk.port.now_ms(session))
    left = left_ms(session, now_ms)
    newest = max(shown.standing, key=lambda mark: int(mark.id[1:]), default=None)
    following = session.plan.after(session.phase.name) if session.phase else session.plan.phases[0]
    return desk.page(
        "live.html",
        session=shown,
        controls=controls,
        line=line_of(shown, now_ms),
        left=time_left(left),
        left_ms=left,
        following=following,
        reached=recognition_words(shown),
        newest=_("Last mark: {mark}.", mark=in_words(newest)) if newest else _("No mark yet."),
        newest_mark=newest,
        first=first,
        telling=just_told(session),
        lights=lights_of(desk.home),
        status=desk.port.status(session.id),
        stamp=desk.stamp(session),
    )


async def press(request: Request) -> Response:
    """Take one press of a button."""
    desk, session_id = desk_of(request), request.path_params["session"]
    form = await request.form()
    # The page tells what waits for as long as it does; an alert would still be there afterwards.
    with suppress(WaitsError):
        step = _teach_again if text(form, "do") == "said-taught" else _press
        await run_in_threadpool(step, desk, session_id, form)
    return then(f"/live/{session_id}")


def _teach_again(desk: Desk, session_id: str, form: FormData) -> None:
    """Record that a carry-over was said, and what it is about taught again."""
    with desk.log() as log:
        session = log.session(session_id)
    desk.append(session, form, taught_again(session, form), CarryOverSaid(text(form, "item")))


def _press(desk: Desk, session_id: str, form: FormData) -> None:
    wanted, item, wish, ago_s = text(form, "do"), text(form, "item"), wish_of(form), ago_of(form)
    if wanted == "said":
        desk.port.append(session_id, (CarryOverSaid(item),), request=wish)
    elif wanted == "brought-back":
        desk.port.append(session_id, (AwardBroughtBack(item),), request=wish)
    elif wanted in ("guest", "teacher"):
        desk.port.append(session_id, (SessionTaught(by_guest=wanted == "guest"),), request=wish)
    elif wanted == "close":
        desk.port.close(session_id, request=wish)
    elif wanted == "phase":
        desk.port.submit(session_id, Command(Action.PHASE, phase=item), request=wish, ago_s=ago_s)
    elif wanted in BUTTONS:
        desk.port.submit(session_id, BUTTONS[wanted], request=wish, ago_s=ago_s)
    else:
        raise CompanionError(_("This page has no such button."), remedy=_("Load it again."))


def stream(request: Request) -> Response:
    """Tell a page, by server-sent events, the stamp of its session now and whenever it changes."""
    desk, session_id = desk_of(request), request.path_params["session"]
    return streamed(desk, newest_in(session_id), lambda seq: stamp(seq, desk, session_id))


def newest_in(session_id: str) -> Callable[[sqlite3.Connection], int]:
    """Return what asks a log for the number of the session's newest event."""

    def newest(db: sqlite3.Connection) -> int:
        found = db.execute("SELECT max(seq) FROM event WHERE session = ?", [session_id]).fetchone()
        return found[0] or 0

    return newest
