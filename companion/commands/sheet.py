"""`companion sheet`: sheets to print from the settings."""

from datetime import datetime
from pathlib import Path

import click

from companion.errors import CompanionError
from companion.language import _
from companion.log.store import open_log
from companion.pages.handbill import coming, guest_sheet
from companion.pages.wall_sheet import wall_sheet
from companion.paths import Home
from companion.settings.pictures import Pictures
from companion.settings.settings import Settings, load_settings


@click.command()
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.option(
    "--wall", is_flag=True, help="The class's routines for the wall, in place of the guest's sheet."
)
@click.pass_obj
def sheet(home: Home, file: Path, *, wall: bool) -> None:
    """Write a printable page: for a guest who teaches today, or with --wall for the classroom's wall.

    A guest finds on it the plan, the routines, phrases and keys, today's classes with what is left to say to
    them, and what never to write down.
    """
    settings = load_settings(home.settings)
    pictures = Pictures(home.pictures)
    page = wall_sheet(settings, pictures) if wall else _guest_page(home, settings)
    try:
        with file.open("x", encoding="utf-8") as opened:
            opened.write(page)
    except FileExistsError:
        raise CompanionError(
            _("There is a file {file} already.", file=file),
            safe=_("It was not changed."),
            remedy=_("Name another one."),
        ) from None
    except OSError as error:
        raise CompanionError(
            _("The page can't be written to {file} ({strerror}).", file=file, strerror=error.strerror),
            remedy=_("Name a file in a folder that you may write to."),
        ) from error
    click.echo(_("A printable page is in {file}", file=file))


def _guest_page(home: Home, settings: Settings) -> str:
    with open_log(home.log) as log:
        return guest_sheet(settings, coming(log, settings, datetime.now().astimezone().date()))
