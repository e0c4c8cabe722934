"""`companion pictures`: photos of how a place should look, for phases, routines and carry-overs."""

import sys
from pathlib import Path

import click

from companion.errors import CompanionError
from companion.language import _
from companion.pages.shelf import Pictured, places_of
from companion.paths import Home
from companion.settings.pictures import CAUTION, MOST_BYTES, Pictures


@click.group(invoke_without_command=True)
@click.pass_context
def pictures(ctx: click.Context) -> None:
    """List what can have a picture for the class to see, and what has one."""
    if ctx.invoked_subcommand is not None:
        return
    home: Home = ctx.obj
    for title, places in places_of(home):
        click.echo(f"{_(title)}:")
        for place in places:
            has_one = f"  ({_('has a picture')})" if place.name else ""
            click.echo(f"  {place.label}{has_one}")


@pictures.command()
@click.argument("photo", type=click.Path(path_type=Path))
@click.argument("place")
@click.option("--no-child", is_flag=True, help="Say that no child can be seen in it.")
@click.pass_obj
def put(home: Home, photo: Path, place: str, *, no_child: bool) -> None:
    """Copy the file PHOTO, made small, as the picture of PLACE, a line of the list or its beginning."""
    found = _named(home, place)
    try:
        data = photo.read_bytes() if photo.stat().st_size <= MOST_BYTES else bytes(MOST_BYTES + 1)
    except OSError as error:
        raise CompanionError(
            _("{photo} can't be read ({strerror}).", photo=photo, strerror=error.strerror),
            safe=_("Nothing was kept."),
            remedy=_("Name another file."),
        ) from error
    Pictures(home.pictures).put(found.what, data, child_seen=not no_child and _child_seen())
    click.echo(_("The class sees it with {label}.", label=found.label))


@pictures.command("take-away")
@click.argument("place")
@click.pass_obj
def take_away(home: Home, place: str) -> None:
    """Delete the picture of PLACE, as the list names it."""
    found = _named(home, place)
    if not found.name:
        raise CompanionError(
            _("There is no picture of {label}.", label=found.label), safe=_("Nothing was changed.")
        )
    Pictures(home.pictures).take_away(found.what)
    click.echo(_("The picture of {label} is deleted.", label=found.label))


def _child_seen() -> bool:
    """Return what the person at the terminal says. Raises CompanionError where nobody can be asked."""
    if not sys.stdin.isatty():
        raise CompanionError(
            _("It was not said whether a child can be seen in it."),
            safe=_("Nothing was kept."),
            remedy=f"{_('Say --no-child if none can.')} {_(CAUTION)}",
        )
    return click.confirm(f"{_(CAUTION)}\n{_('Can a child be seen in it?')}", default=True)


def _named(home: Home, named: str) -> Pictured:
    """Return the place that is called `named`, else the only one that begins so.

    Raises CompanionError if there is none or more than one.
    """
    places = [place for _, group in places_of(home) for place in group]
    wanted = named.casefold()
    same = [place for place in places if place.label.casefold() == wanted]
    like = same or [place for place in places if place.label.casefold().startswith(wanted)]
    if len(like) != 1:
        raise CompanionError(
            _("More than one place begins with '{named}'.", named=named)
            if like
            else _("There is no place '{named}'.", named=named),
            safe=_("Nothing was changed."),
            remedy=_("Name one as it stands in: companion pictures"),
        )
    return like[0]
