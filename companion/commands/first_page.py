"""`companion` without a command: starts what is to run and opens the first page."""

import os
import sys
import webbrowser
from pathlib import Path

import click

from companion.background.client import is_running, start
from companion.background.control import ask
from companion.errors import CompanionError
from companion.language import _, later
from companion.pages.keys import opening_words
from companion.pages.setup.beginning import begin
from companion.paths import Home
from companion.pressing.hotkeys import NO_SCREEN, obstacle_of
from companion.settings.settings import load_settings

NO_DISPLAY = later("There is no display here to open the first page on.")


def open_first_page(home: Home) -> None:
    """Open the first page; in an empty home it is the way in, and mending where the settings can't be used.

    Raises CompanionError if the companion does not come up.
    """
    begin(home)
    valid = _is_valid(home)
    if not is_running(home):
        start(home, mend=True)
        if valid:
            click.echo(_("The companion runs. The microphone opens only while a session is open."))
    if not valid:
        click.echo(
            _("The settings can't be used as they are. The page that opens shows what is wrong, to mend it.")
        )
    answer = ask(home.control, {"do": "pages", "to": "/" if valid else "/setup"})
    seen = obstacle_of(os.environ, sys.platform) != NO_SCREEN
    opened = seen and webbrowser.open(Path(answer["file"]).as_uri())
    if not seen:
        click.echo(_(NO_DISPLAY))
    click.echo(opening_words(answer["address"], opened=opened))


def _is_valid(home: Home) -> bool:
    try:
        load_settings(home.settings)
    except CompanionError:
        return False
    return True
