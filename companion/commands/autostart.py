"""`companion autostart`: the companion starts by itself when the teacher logs in."""

import os
import sys
from pathlib import Path

import click

from companion.background.autostart import command_for, entry_for, switch_off, switch_on
from companion.language import _
from companion.paths import Home


@click.command()
@click.argument("state", type=click.Choice(["on", "off"]))
@click.pass_obj
def autostart(home: Home, state: str) -> None:
    """Start the companion with every log-in (on), or no longer (off)."""
    entry = entry_for(sys.platform, Path.home(), command_for(home), dict(os.environ))
    if state == "off":
        gone = switch_off(entry)
        click.echo(
            _("The companion starts with your log-in no longer.") if gone else _("It was off already.")
        )
        return
    switch_on(entry)
    click.echo(_("The companion starts with your next log-in. The entry is in {path}", path=entry.path))
