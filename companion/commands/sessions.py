"""`companion sessions`: what is in the log."""

import json
from dataclasses import asdict

import click
from rich.console import Console
from rich.table import Table

from companion.commands.chosen import SHORT
from companion.commands.shown import SIGN
from companion.errors import CompanionError
from companion.language import _, many
from companion.log.store import open_log
from companion.log.summary import Summary
from companion.paths import Home

NEWEST = 40
"""As the help of --all says, too."""


@click.command()
@click.option("--class-group", help="Only this class group.")
@click.option("--all", "every", is_flag=True, help="Every one, not only the newest 40.")
@click.option("--json", "as_json", is_flag=True, help="Print every one, as one JSON object a line.")
@click.pass_obj
def sessions(home: Home, class_group: str | None, *, every: bool, as_json: bool) -> None:
    """List the newest sessions in the log, newest first."""
    with open_log(home.log) as log:
        # One more tells whether there are older ones.
        summaries = log.summaries(class_group, most=None if every or as_json else NEWEST + 1)
        groups = log.class_groups()
    if class_group is not None and not summaries:
        raise CompanionError(
            _("There is no session of '{class_group}' in the log.", class_group=class_group),
            remedy=_("The log has sessions of: {groups}.", groups=", ".join(groups))
            if groups
            else _("The log has sessions of: nobody yet."),
        )
    if as_json:
        for summary in summaries:
            row = asdict(summary) | {"opened_at": summary.opened_at.isoformat()}
            click.echo(json.dumps(row, ensure_ascii=False))
        return
    table = Table(box=None, pad_edge=False)
    table.add_column(_("session"), no_wrap=True)
    table.add_column(_("class group"), overflow="fold")
    table.add_column(_("opened"), no_wrap=True)
    for sign in SIGN.values():
        table.add_column(sign, justify="right", no_wrap=True)
    for column in (_("recognition"), _("state")):
        table.add_column(column, overflow="fold")
    for summary in summaries if every else summaries[:NEWEST]:
        table.add_row(
            summary.session[:SHORT],
            summary.class_group,
            f"{summary.opened_at:%Y-%m-%d %H:%M}",
            str(summary.praise),
            str(summary.reminder),
            summary.recognition or _("none"),
            _state(summary),
        )
    console = Console(highlight=False, markup=False)
    console.print(table if summaries else _("There is no session in the log yet."))
    if not every and len(summaries) > NEWEST:
        console.print(_("Older ones: companion sessions --all"))


def _state(summary: Summary) -> str:
    if summary.settled:
        return _("settled")
    if not summary.closed:
        return _("open")
    if summary.unreviewed:
        return many("{count} to review", "{count} to review", summary.unreviewed)
    return _("to settle")
