"""Set-up: the settings file as forms, with the same checks as the command line."""

import hashlib
from datetime import date

import tomlkit
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response

from companion.errors import CompanionError
from companion.pages.desk import Desk, desk_of, then, wish_of
from companion.pages.setup_changes import add_row, begin_timetable, drop_row, fill_in, move_row
from companion.pages.setup_form import Group, Rows, form_of
from companion.settings.file import edit
from companion.settings.settings import load_settings, read_text


def show(request: Request) -> Response:
    """Show the settings."""
    desk = desk_of(request)
    load_settings(desk.home.settings)
    text = read_text(desk.home.settings)
    values = tomlkit.parse(text).unwrap()
    return desk.page(
        "setup.html",
        form=form_of(values),
        path=desk.home.settings,
        version=_version(text),
        timetable="timetable" in values,
        is_group=lambda part: isinstance(part, Group),
        is_rows=lambda part: isinstance(part, Rows),
    )


async def save(request: Request) -> Response:
    """Save what was changed."""
    desk = desk_of(request)
    form = await request.form(max_fields=20_000)
    await run_in_threadpool(_save, desk, form)
    return then("/setup")


def _save(desk: Desk, form: FormData) -> None:
    wish_of(form)
    said = {name: value for name, value in form.items() if isinstance(value, str)}
    do, _, place = said.get("do", "").partition(":")

    def change(document: tomlkit.TOMLDocument) -> None:
        if said.get("version") != _version(tomlkit.dumps(document)):
            raise CompanionError(
                "The settings file was changed meanwhile, here or in an editor.",
                safe="It is as it was.",
                remedy="Load this page again and repeat the change.",
            )
        fill_in(document, said)
        try:
            _rearrange(document, do, place, desk.clock().date())
        except (IndexError, KeyError, ValueError) as error:
            raise CompanionError("This page has no such row.", remedy="Load it again.") from error

    edit(desk.home.settings, change)
    desk.drafts.forget("day/setup")


def _rearrange(document: tomlkit.TOMLDocument, do: str, place: str, today: date) -> None:
    match do:
        case "add":
            add_row(document, place)
        case "drop":
            drop_row(document, place)
        case "up":
            move_row(document, place)
        case "timetable" if "timetable" not in document:
            begin_timetable(document, today)


def _version(text: str) -> str:
    """Return what tells this text from any other: a file that was changed meanwhile is not overwritten."""
    return hashlib.sha256(text.encode()).hexdigest()[:16]
