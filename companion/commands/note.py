"""`companion note`: the hand-off note, as text and as a printable page."""

from pathlib import Path

import click

from companion.commands.chosen import noted_session
from companion.commands.shown import unfinished_lines
from companion.errors import CompanionError
from companion.lesson.handoff import as_text, hand_off_note
from companion.log.care import kept_for_note
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
    """Print the hand-off note of a lesson for the class's own teacher.

    SESSION is a class group or the beginning of a session's name; without it, it is the newest lesson that
    is over.
    """
    with open_log(home.log) as log:
        chosen = noted_session(log, session)
        kept = tuple(kept_for_note(log, chosen))
    for line in unfinished_lines(chosen):
        click.echo(line, err=True)
    found = hand_off_note(chosen, kept)
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
