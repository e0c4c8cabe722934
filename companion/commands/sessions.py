"""`companion sessions`: what is in the log."""

import json
from collections.abc import Iterator, Sequence
from dataclasses import asdict

import click
from rich.cells import cell_len

from companion.commands.chosen import SHORT
from companion.commands.shown import SIGN
from companion.errors import CompanionError
from companion.language import _, many, word
from companion.log.store import open_log
from companion.log.summary import Summary
from companion.paths import Home

NEWEST = 40
"""As the help of --all says, too."""
NUMBERS = (3, 4)
"""Columns that stand at the right."""


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
    shown = summaries if every else summaries[:NEWEST]
    for line in _lines(shown) if shown else [_("There is no session in the log yet.")]:
        click.echo(line)
    if len(summaries) > len(shown):
        click.echo(_("Older ones: companion sessions --all"))


def _lines(summaries: Sequence[Summary]) -> Iterator[str]:
    """Yield the lines of the table, heading first; a table of rich takes a millisecond for each."""
    head = (
        _("session"),
        _("class group"),
        _("opened"),
        *SIGN.values(),
        _("recognition"),
        _("state"),
    )
    rows = [head, *map(_row, summaries)]
    widths = [max(map(cell_len, column)) for column in zip(*rows, strict=True)]
    for row in rows:
        cells = (
            _padded(cell, width, right=at in NUMBERS)
            for at, (cell, width) in enumerate(zip(row, widths, strict=True))
        )
        yield "  ".join(cells).rstrip()


def _row(summary: Summary) -> tuple[str, ...]:
    return (
        summary.session[:SHORT],
        summary.class_group,
        f"{summary.opened_at:%Y-%m-%d %H:%M}",
        str(summary.praise),
        str(summary.reminder),
        summary.recognition or _("none"),
        _state(summary),
    )


def _padded(cell: str, width: int, *, right: bool) -> str:
    """Return a cell with the blanks that it lacks, as a terminal counts letters."""
    blanks = " " * (width - cell_len(cell))
    return blanks + cell if right else cell + blanks


def _state(summary: Summary) -> str:
    if summary.settled:
        return _("settled")
    if not summary.closed:
        return word("session", "open")
    if summary.unreviewed:
        return many("{count} to review", "{count} to review", summary.unreviewed)
    return _("to settle")
