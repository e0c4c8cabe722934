"""`companion privacy`: what is kept, where, until when, and what never leaves."""

import click

from companion.paths import Home
from companion.settings.kept import NEVER_KEPT, NEVER_LEAVES, RULES_FIRST, kept_in


@click.command()
@click.pass_obj
def privacy(home: Home) -> None:
    """Say in plain words what is kept, where, until when, and what never leaves this computer."""
    click.echo(RULES_FIRST)
    click.echo()
    for kept in kept_in(home):
        here = "" if kept.where.exists() else " (nothing there now)"
        click.echo(f"{kept.what}\n  where: {kept.where}{here}\n  until: {kept.until}")
    click.echo(f"\n{NEVER_KEPT}\n{NEVER_LEAVES}")
