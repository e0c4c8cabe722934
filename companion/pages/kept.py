"""What is kept, where and until when."""

from starlette.requests import Request
from starlette.responses import Response

from companion.pages.desk import desk_of
from companion.settings.kept import NEVER_KEPT, NEVER_LEAVES, RULES_FIRST, kept_in


def show(request: Request) -> Response:
    """Show what is kept in plain words."""
    desk = desk_of(request)
    return desk.page(
        "kept.html", kept=list(kept_in(desk.home)), first=RULES_FIRST, never=(NEVER_KEPT, NEVER_LEAVES)
    )
