"""What is left to say to each class group, first thing when it comes."""

from starlette.requests import Request
from starlette.responses import Response

from companion.pages.desk import desk_of


def show(request: Request) -> Response:
    """Show the carry-over of every class group's newest session."""
    desk = desk_of(request)
    with desk.log() as log:
        left = [(group, newest) for group in log.class_groups() if (newest := log.summaries(group, most=1))]
    return desk.page(
        "next.html",
        waiting=[(group, newest[0]) for group, newest in left if newest[0].carry_over],
        nothing=[group for group, newest in left if not newest[0].carry_over],
    )
