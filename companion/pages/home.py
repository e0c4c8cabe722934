"""The first page: what to do next, and the newest sessions."""

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from companion.lesson.opening import UNPLANNED
from companion.pages.desk import desk_of, text, then, wish_of

NEWEST = 24
"""Sessions on the first page: three days of a specialist."""


def show(request: Request) -> Response:
    """Show the lesson that is open, what waits for a review, and what each class group is to be told."""
    desk = desk_of(request)
    with desk.log() as log:
        sessions = log.summaries(most=NEWEST)
        groups = log.class_groups()
    choice = desk.port.choice()
    planned = choice.class_groups if choice else ()
    return desk.page(
        "home.html",
        running=next((s for s in sessions if not s.closed), None),
        waiting=[s for s in sessions if s.closed and not s.settled],
        sessions=sessions,
        choice=choice,
        groups=sorted({*groups, *planned} - {UNPLANNED}),
        now=desk.clock(),
    )


async def open_session(request: Request) -> Response:
    """Open a session of the class group that was named, or of none."""
    desk, form = desk_of(request), await request.form()
    what = text(form, "class_group"), text(form, "plan") or None, text(form, "room")
    opened = await run_in_threadpool(desk.port.open, *what, request=wish_of(form))
    return then(f"/live/{opened.id}")


def live(request: Request) -> Response:
    """Lead to the live page of the lesson that is open, else to the first page."""
    with desk_of(request).log() as log:
        running = next((s for s in log.summaries(most=NEWEST) if not s.closed), None)
    return then(f"/live/{running.session}" if running else "/")
