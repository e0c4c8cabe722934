"""`companion privacy`: what is kept, where, until when, and what never leaves."""

import click

from companion.language import _
from companion.paths import Home
from companion.settings.kept import NEVER_KEPT, NEVER_LEAVES, RULES_FIRST, kept_in


@click.command()
@click.pass_obj
def privacy(home: Home) -> None:
    """Say in plain words what is kept, where, until when, and what never leaves this computer."""
    click.echo(_(RULES_FIRST))
    click.echo()
    for kept in kept_in(home):
        here = "" if kept.where.exists() else f" ({_('nothing there now')})"
        click.echo(kept.what)
        click.echo(f"  {_('where: {place}', place=kept.where)}{here}")
        click.echo(f"  {_('until: {end}', end=kept.until)}")
    click.echo(f"\n{_(NEVER_KEPT)}\n{_(NEVER_LEAVES)}")
