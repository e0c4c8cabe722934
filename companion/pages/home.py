"""The first page: what to do next, and the newest sessions."""

from starlette.requests import Request
from starlette.responses import Response

from companion.pages.desk import desk_of, then

NEWEST = 24
"""Sessions on the first page: three days of a specialist."""


def show(request: Request) -> Response:
    """Show the lesson that is open, what waits for a review, and what each class group is to be told."""
    desk = desk_of(request)
    with desk.log() as log:
        sessions = log.summaries(most=NEWEST)
        groups = log.class_groups()
    return desk.page(
        "home.html",
        running=next((s for s in sessions if not s.closed), None),
        waiting=[s for s in sessions if s.closed and not s.settled],
        sessions=sessions,
        groups=groups,
    )


def live(request: Request) -> Response:
    """Lead to the live page of the lesson that is open, else to the first page."""
    with desk_of(request).log() as log:
        running = next((s for s in log.summaries(most=NEWEST) if not s.closed), None)
    return then(f"/live/{running.session}" if running else "/")
