"""All rooms of a school together, in sums, beside this room; and this room's weeks shared with them."""

from dataclasses import replace
from pathlib import Path

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from companion.errors import CompanionError
from companion.language import _
from companion.lesson.chance import share as share_of
from companion.log.weeks import Within, group_marks
from companion.pages.desk import Desk, desk_of, text, then, wish_of
from companion.pages.school_sheet import RULE, SHARE_CAUTION, school_sheet
from companion.school.ask import SchoolLook, ask, sum_up
from companion.school.gather import gather
from companion.school.share import share
from companion.school.store import Store, store_of
from companion.settings.settings import load_settings

SCHOOL_YEAR = 40
"""So many of the newest weeks and months are told one by one, unless all are asked for."""


def show(request: Request) -> Response:
    """Show what was gathered last, and this room beside it."""
    desk = desk_of(request)
    folder = _folder(desk)
    store = store_of(desk.home, folder) if folder else None
    look = ask(store) if store and _asked(store) else None
    with desk.log() as log:
        own = group_marks(log, Within(until=look.closed if look else "9999"))
    praise, reminder = sum(one.praise for one in own), sum(one.reminder for one in own)
    return desk.page(
        "school.html",
        folder=folder,
        look=look if look is None or "every" in request.query_params else _newest(look),
        spans=len(look.spans) if look else 0,
        own=share_of(praise, praise + reminder),
        rule=RULE,
        caution=SHARE_CAUTION,
    )


def _newest(look: SchoolLook) -> SchoolLook:
    """Leave the sums as they are, and tell the newest weeks one by one."""
    return replace(look, spans=look.spans[-SCHOOL_YEAR:], by_span=look.by_span[-SCHOOL_YEAR:])


def sheet(request: Request) -> Response:
    """Give the same as a file to print, without this room."""
    desk = desk_of(request)
    folder = _folder(desk)
    if folder is None or not _asked(store_of(desk.home, folder)):
        raise CompanionError(_("Nothing was gathered yet."), remedy=_("Gather the weeks first."))
    made = school_sheet(ask(store_of(desk.home, folder)))
    return HTMLResponse(made, headers={"Content-Disposition": 'attachment; filename="all rooms.html"'})


async def step(request: Request) -> Response:
    """Share this room's weeks, or gather those of all rooms."""
    form = await request.form()
    await run_in_threadpool(_step, desk_of(request), form)
    return then("/school")


def _step(desk: Desk, form: FormData) -> None:
    wish_of(form)
    folder, today = _folder(desk), desk.clock().date()
    if folder is None:
        raise CompanionError(
            _("The settings name no folder of the school."), remedy=_("Write it into companion.toml.")
        )
    match text(form, "do"):
        case "share":
            share(desk.home, folder, load_settings(desk.home.settings).school.name, today)
        case "gather":
            store = store_of(desk.home, folder)
            gather(folder, store, today)
            sum_up(store)
        case _:
            raise CompanionError(_("This page has no such button."), remedy=_("Load it again."))


def _folder(desk: Desk) -> Path | None:
    shared = load_settings(desk.home.settings).school.shared if desk.home.settings.exists() else ""
    return Path(shared).expanduser() if shared else None


def _asked(store: Store) -> bool:
    return bool(store.groups_of("taught_groups"))
