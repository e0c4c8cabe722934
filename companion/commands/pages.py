"""`companion pages`: the pages without a lesson."""

import webbrowser

import click

from companion.background.control import NotRunningError, ask
from companion.log.store import open_log
from companion.paths import Home


@click.command()
@click.argument("session", required=False)
@click.option("--open", "open_browser", is_flag=True, help="Open them in the browser.")
@click.pass_obj
def pages(home: Home, session: str | None, open_browser: bool) -> None:
    """Serve the pages on this computer only, until Ctrl+C.

    SESSION: the beginning of a session's name, to begin with its review.
    """
    if session:
        with open_log(home.log) as log:
            session = log.find(session).id
    if _served_already(home, session, open_browser=open_browser):
        return
    from companion.pages.serve import serve_log  # noqa: PLC0415 - a web server is slow to import

    serve_log(home, session, open_browser=open_browser)


def _served_already(home: Home, session: str | None, *, open_browser: bool) -> bool:
    """Show the pages of the companion that runs, if one does: only it has the sounds."""
    try:
        to = f"/review/{session}" if session else "/"
        address = ask(home.control, {"do": "pages", "to": to})["address"]
    except NotRunningError:
        return False
    if not (open_browser and webbrowser.open(address)):
        click.echo(f"Open once, in your own browser: {address}")
    return True
