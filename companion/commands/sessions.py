"""`companion sessions`: what is in the log."""

import json
from dataclasses import asdict

import click
from rich.console import Console
from rich.table import Table

from companion.commands.chosen import SHORT
from companion.commands.shown import SIGN
from companion.errors import CompanionError
from companion.log.store import open_log
from companion.log.summary import Summary
from companion.paths import Home

NEWEST = 40


@click.command()
@click.option("--class-group", help="Only this class group.")
@click.option("--all", "every", is_flag=True, help=f"Every one, not only the newest {NEWEST}.")
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
            f"There is no session of '{class_group}' in the log.",
            remedy=f"The log has sessions of: {', '.join(groups) or 'nobody yet'}.",
        )
    if as_json:
        for summary in summaries:
            row = asdict(summary) | {"opened_at": summary.opened_at.isoformat()}
            click.echo(json.dumps(row, ensure_ascii=False))
        return
    table = Table(box=None, pad_edge=False)
    table.add_column("session", no_wrap=True)
    table.add_column("class group", overflow="fold")
    table.add_column("opened", no_wrap=True)
    for sign in SIGN.values():
        table.add_column(sign, justify="right", no_wrap=True)
    for column in ("recognition", "state"):
        table.add_column(column, overflow="fold")
    for summary in summaries if every else summaries[:NEWEST]:
        table.add_row(
            summary.session[:SHORT],
            summary.class_group,
            f"{summary.opened_at:%Y-%m-%d %H:%M}",
            str(summary.praise),
            str(summary.reminder),
            summary.recognition or "none",
            _state(summary),
        )
    console = Console(highlight=False, markup=False)
    console.print(table if summaries else "There is no session in the log yet.")
    if not every and len(summaries) > NEWEST:
        console.print("Older ones: companion sessions --all")


def _state(summary: Summary) -> str:
    if summary.settled:
        return "settled"
    if not summary.closed:
        return "open"
    return f"{summary.unreviewed} to review" if summary.unreviewed else "to settle"
