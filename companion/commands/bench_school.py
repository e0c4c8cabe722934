"""`companion bench-school`: how long a school's questions take, by the number of rooms."""

import tempfile
from pathlib import Path

import click

from companion.language import _


@click.command("bench-school")
@click.option("--rooms", default="5,50", show_default=True, help="Numbers of rooms, with commas between.")
@click.option("--years", default=1, show_default=True, type=click.IntRange(1), help="School years.")
@click.option("--weeks", type=click.IntRange(1), help="Only so many newest weeks of them.")
@click.option("--week-files", is_flag=True, help="Begin with the rooms' week files, and gather them.")
def bench_school(rooms: str, years: int, weeks: int | None, *, week_files: bool) -> None:
    """Measure gathering and asking many rooms, made by arithmetic, in a folder that is deleted again."""
    from companion.bench.school_rooms import HEADING, measure_rooms, mondays  # noqa: PLC0415 - an extra

    try:
        numbers = [int(number) for number in rooms.split(",")]
        if min(numbers) < 1:
            raise ValueError(rooms)
    except ValueError:
        raise click.UsageError(_("Write the numbers of rooms as in 5,50.")) from None
    click.echo(HEADING)
    looked_at = mondays(years)[-weeks if weeks else None :]
    for number in numbers:
        with tempfile.TemporaryDirectory() as folder:
            click.echo(measure_rooms(Path(folder), number, looked_at, with_files=week_files).line)
