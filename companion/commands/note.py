"""`companion note`: the hand-off note, as text and as a printable page; all of today in one job."""

from datetime import datetime
from pathlib import Path

import click

from companion.commands.append import append_now
from companion.commands.chosen import noted_session
from companion.commands.page_file import write_page
from companion.commands.shown import unfinished_lines
from companion.errors import CompanionError
from companion.language import _, speaking
from companion.lesson.aftercare import HandOver, NoteHandedOver
from companion.lesson.handoff import as_text
from companion.lesson.session import Session
from companion.log.store import SessionLog, open_log
from companion.pages.notes import sessions_of
from companion.pages.printed_note import printed_notes
from companion.pages.sheet import note_of
from companion.paths import Home
from companion.settings.chosen_language import chosen_language

BETWEEN = "\n\n" + "-" * 40 + "\n\n"
"""Between two notes in the terminal."""


@click.command()
@click.argument("session", required=False)
@click.option("--today", is_flag=True, help="The notes of all lessons of today that are settled.")
@click.option(
    "--html",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Also write a printable page to this file, one sheet a note.",
)
@click.option("--given", is_flag=True, help="Mark what is printed here as handed over.")
@click.pass_obj
def note(home: Home, session: str | None, html: Path | None, *, today: bool, given: bool) -> None:
    """Print the hand-off note of a lesson for the class's own teacher.

    SESSION is a class group or the beginning of a session's name; without it, it is the newest lesson that
    is over.
    """
    if today and session:
        raise click.UsageError(_("Name a session, or ask for all of today; not both."))
    with open_log(home.log) as log:
        chosen = _of_today(log) if today else [noted_session(log, session)]
        for line in (line for one in chosen for line in unfinished_lines(one)):
            click.echo(line, err=True)
        with speaking(chosen_language(home.settings).note):
            notes = [note_of(log, one) for one in chosen]
            page, text = printed_notes(notes), BETWEEN.join(as_text(one) for one in notes)
        if html is not None:
            write_page(html, page)
            click.echo(_("A printable page is in {file}", file=html), err=True)
        click.echo(text)
        if given:
            for one in chosen:
                append_now(log, one, NoteHandedOver(HandOver.GIVEN))
            click.echo(_("Marked as handed over."), err=True)


def _of_today(log: SessionLog) -> list[Session]:
    """Return the lessons of today that are settled, and say which are not.

    Raises CompanionError if none is.
    """
    sessions = sessions_of(log, datetime.now().astimezone().date())
    if waiting := [one.class_group for one in sessions if not one.settled]:
        click.echo(
            _("Not settled yet, and so not among them: {groups}.", groups=", ".join(waiting)), err=True
        )
    settled = [one for one in sessions if one.settled]
    if not settled:
        raise CompanionError(
            _("No lesson of today is settled yet."), remedy=_("Settle one with: companion settle")
        )
    return settled
