"""`companion sessions`: what is in the log."""

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import fields, replace
from datetime import datetime
from itertools import chain, islice

import click
from rich.cells import cell_len

from companion.commands.chosen import SHORT
from companion.commands.given import GivenDate
from companion.commands.shown import SIGN
from companion.errors import CompanionError
from companion.language import _, many, word
from companion.log.newest_first import newest_first, recognitions
from companion.log.store import SessionLog, open_log
from companion.log.summary import Summary
from companion.paths import Home

NEWEST = 40
"""As the help of --all says, too."""
NUMBERS = (3, 4)
"""Columns that stand at the right."""
_FIELDS = tuple(field.name for field in fields(Summary))


@click.command()
@click.option("--class-group", help="Only this class group.")
@click.option("--all", "every", is_flag=True, help="Every one, not only the newest 40.")
@click.option("--until", type=GivenDate(), metavar="DAY", help="Only those of this day and before.")
@click.option("--json", "as_json", is_flag=True, help="Print every one, as one JSON object a line.")
@click.pass_obj
def sessions(
    home: Home, class_group: str | None, *, every: bool, until: datetime | None, as_json: bool
) -> None:
    """List the newest sessions in the log, newest first."""
    with open_log(home.log) as log:
        most = -1 if every or as_json else NEWEST + 1
        found = newest_first(log, class_group, until=until.date() if until else None, most=most)
        newest = list(islice(found, NEWEST))
        if not newest and class_group is not None and class_group not in log.class_groups():
            raise _nobody(class_group, log.class_groups())
        if as_json:
            _say(map(_values, chain(newest, found)))
            return
        if not newest:
            click.echo(
                _("There is no session in the log yet.") if until is None else _("There is none so old.")
            )
            return
        if every:
            _say(_lines(chain(newest, found), _widest(log)))
            return
        _say(_lines(newest, newest))
        if older := next(found, None):
            day = f"{older.opened_at:%Y-%m-%d}"
            click.echo(_("Older ones: companion sessions --until {day}, or --all", day=day))


def _nobody(class_group: str, groups: Sequence[str]) -> CompanionError:
    return CompanionError(
        _("There is no session of '{class_group}' in the log.", class_group=class_group),
        remedy=_("The log has sessions of: {groups}.", groups=", ".join(groups))
        if groups
        else _("The log has sessions of: nobody yet."),
    )


def _say(lines: Iterator[str]) -> None:
    """Write lines, the first ones at once, the others in larger parts."""
    while part := list(islice(lines, NEWEST)):
        click.echo("\n".join(part))


def _values(summary: Summary) -> str:
    row = {name: getattr(summary, name) for name in _FIELDS} | {"opened_at": summary.opened_at.isoformat()}
    return json.dumps(row, ensure_ascii=False)


def _widest(log: SessionLog) -> list[Summary]:
    """Return sessions that are as wide in the table as any in the log, without reading all."""
    newest = next(newest_first(log, most=1))
    wide = [replace(newest, class_group=group) for group in log.class_groups()]
    wide += [replace(newest, recognition=name) for name in (*recognitions(log), None)]
    states = ((True, True, 0), (False, False, 0), (False, True, 100), (False, True, 0))
    wide += [replace(newest, settled=s, closed=c, unreviewed=number) for s, c, number in states]
    return wide


def _lines(summaries: Iterable[Summary], widest: Iterable[Summary]) -> Iterator[str]:
    """Yield the lines of the table, heading first; a table of rich takes a millisecond for each.

    widest: sessions of which one is as wide as any of `summaries`, in each column.
    """
    head = (
        _("session"),
        _("class group"),
        _("opened"),
        *SIGN.values(),
        _("recognition"),
        _("state"),
    )
    widths = [max(map(cell_len, column)) for column in zip(head, *map(_row, widest), strict=True)]
    for row in chain([head], map(_row, summaries)):
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
