"""`companion sessions`: what is in the log."""

import json
from dataclasses import asdict

import click
from rich.console import Console
from rich.table import Table

from companion.log.store import open_log
from companion.paths import Home


@click.command()
@click.option("--class-group", help="Only this class group.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object a line.")
@click.pass_obj
def sessions(home: Home, class_group: str | None, as_json: bool) -> None:
    """List the sessions in the log, newest first."""
    with open_log(home.log) as log:
        summaries = log.summaries(class_group)
    if as_json:
        for summary in summaries:
            row = asdict(summary) | {"opened_at": summary.opened_at.isoformat()}
            click.echo(json.dumps(row, ensure_ascii=False))
        return
    table = Table(box=None, pad_edge=False)
    for column in ("session", "class group", "opened", "praise", "reminders", "recognition", "state"):
        table.add_column(column, overflow="fold")
    for summary in summaries:
        waiting = f"{summary.unreviewed} to review" if summary.unreviewed else "to settle"
        table.add_row(
            summary.session,
            summary.class_group,
            f"{summary.opened_at:%Y-%m-%d %H:%M}",
            str(summary.praise),
            str(summary.reminder),
            summary.recognition or "none",
            "settled" if summary.settled else waiting,
        )
    console = Console(highlight=False)
    console.print(table if summaries else "There is no session in the log yet.")
