"""`companion pages`: the pages without a lesson."""

import click

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
    from companion.pages.serve import serve_log  # noqa: PLC0415 - a web server is slow to import

    if session:
        with open_log(home.log) as log:
            session = log.find(session).id
    serve_log(home, session, open_browser=open_browser)
