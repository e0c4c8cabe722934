"""What is typed on a page is kept within a second, until a button takes it over."""

import re

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from companion.errors import CompanionError
from companion.language import _
from companion.log.drafts import Draft
from companion.pages.desk import desk_of

FORM = re.compile(r"([0-9A-Z]{26}|day)/[a-z][\w-]{0,40}")
FIELD = re.compile(r"[a-z][\w.-]{0,120}")
LONGEST = 60_000
"""Letters of one field: the whole settings file."""


async def keep(request: Request) -> Response:
    """Keep what was typed into one field."""
    form = await request.form()
    place, field, value, base = (str(form.get(name, "")) for name in ("form", "field", "value", "base"))
    if not FORM.fullmatch(place) or not FIELD.fullmatch(field) or max(len(value), len(base)) > LONGEST:
        raise CompanionError(_("No page has such a field."), remedy=_("Load it again."))
    await run_in_threadpool(desk_of(request).drafts.keep, place, field, Draft(value, base))
    return Response(status_code=204)
