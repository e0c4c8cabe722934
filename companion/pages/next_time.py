"""What is left to say to each class group, first thing when it comes."""

from itertools import groupby

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response

from companion.errors import CompanionError
from companion.lesson import aftercare
from companion.lesson.event import Body, CarryOverSaid
from companion.log.care import unsaid
from companion.pages.desk import Desk, desk_of, text, then


def show(request: Request) -> Response:
    """Show every carry-over that waits, by class group."""
    desk = desk_of(request)
    with desk.log() as log:
        waiting = sorted(unsaid(log), key=lambda one: (one.class_group, one.written.timestamp()))
        groups = log.class_groups()
    return desk.page(
        "next.html",
        waiting=[(group, list(ones)) for group, ones in groupby(waiting, key=lambda one: one.class_group)],
        nothing=[group for group in groups if group not in {one.class_group for one in waiting}],
        groups=groups,
    )


async def step(request: Request) -> Response:
    """Say that a carry-over was said, drop it, or move it to another class group."""
    desk, session_id = desk_of(request), request.path_params["session"]
    form = await request.form()
    await run_in_threadpool(_step, desk, session_id, form)
    return then("/next")


def _step(desk: Desk, session_id: str, form: FormData) -> None:
    with desk.log() as log:
        session = log.session(session_id)
    desk.append(session, form, _body(session_id, form))


def _body(session_id: str, form: FormData) -> Body:
    """Return the event of one button; it is recorded in the session in which the carry-over was written."""
    match text(form, "do"):
        case "said":
            return CarryOverSaid(session_id)
        case "drop":
            return aftercare.CarryOverDropped(session_id, text(form, "reason"))
        case "move":
            return aftercare.CarryOverMoved(session_id, text(form, "class_group", 80))
    raise CompanionError("This page has no such button.", remedy="Load it again.")
