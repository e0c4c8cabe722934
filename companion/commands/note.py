"""`companion note`: the hand-off note, as text and as a printable page."""

from pathlib import Path

import click

from companion.errors import CompanionError
from companion.lesson.handoff import as_text, hand_off_note
from companion.log.store import open_log
from companion.pages.printed_note import printed_note
from companion.paths import Home


@click.command()
@click.argument("session", required=False)
@click.option(
    "--html",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Also write a printable page to this file.",
)
@click.pass_obj
def note(home: Home, session: str | None, html: Path | None) -> None:
    """Print the hand-off note of a session (the newest one) for the class's own teacher."""
    with open_log(home.log) as log:
        found = hand_off_note(log.find(session))
    if html is not None:
        try:
            html.touch(mode=0o600)
            html.write_text(printed_note(found), encoding="utf-8")
        except OSError as error:
            raise CompanionError(
                f"The page can't be written to {html} ({error.strerror}).",
                safe="The session log was not changed.",
                remedy="Name a file in a folder that you may write to.",
            ) from error
        click.echo(f"A printable page is in {html}", err=True)
    click.echo(as_text(found))
