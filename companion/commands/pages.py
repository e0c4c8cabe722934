"""`companion pages`: the pages without a lesson."""

import webbrowser
from pathlib import Path

import click

from companion.background.control import NoAnswerError, NotRunningError, ask
from companion.clock import ComputerClock
from companion.commands.chosen import named_session
from companion.language import _
from companion.log.store import open_log
from companion.pages import keys
from companion.pages.keys import opening_words
from companion.paths import Home


@click.command()
@click.argument("session", required=False)
@click.option("--open", "open_browser", is_flag=True, help="Open them in the browser.")
@click.option("--close-all", is_flag=True, help="Close every page that is open in any browser.")
@click.pass_obj
def pages(home: Home, session: str | None, *, open_browser: bool, close_all: bool) -> None:
    """Serve the pages on this computer only, until Ctrl+C.

    SESSION, a class group or the beginning of a session's name, lets them begin with its review.
    """
    if close_all:
        keys.close_all(home, ComputerClock().wall().date())
        click.echo(_("Every page that was open is closed: it shows and writes nothing more."))
        return
    if session:
        with open_log(home.log) as log:
            session = named_session(log, session).id
    if _served_already(home, session, open_browser=open_browser):
        return
    from companion.background.house import CompanionHouse  # noqa: PLC0415 - a web server is slow to import
    from companion.pages.serve import serve_log  # noqa: PLC0415

    house = CompanionHouse(home, ComputerClock().wall, None)
    serve_log(home, session, open_browser=open_browser, house=house)


def _served_already(home: Home, session: str | None, *, open_browser: bool) -> bool:
    """Show the pages of the companion that runs, if one does: only it has the sounds."""
    to = f"/review/{session}" if session else "/"
    try:
        way_in = ask(home.control, {"do": "pages", "to": to})
    except NoAnswerError:
        raise
    except NotRunningError:
        return False
    if open_browser:
        webbrowser.open(Path(way_in["file"]).as_uri())
    click.echo(opening_words(way_in["address"], opened=open_browser))
    return True
