"""`companion export`: lessons as tables for other programs."""

from pathlib import Path

import click

from companion.commands.log import EXPORT_CAUTION
from companion.language import _, many
from companion.log.hand_out import FORMATS, dictionary, hand_out
from companion.log.shapes import NOTES, SHAPES
from companion.log.store import open_log
from companion.paths import Home


@click.command()
@click.argument("folder", required=False, type=click.Path(path_type=Path, file_okay=False))
@click.option(
    "--format",
    "form",
    type=click.Choice(FORMATS),
    default="csv",
    show_default=True,
    help="Kind of the tables.",
)
@click.option("--with-individual-notes", is_flag=True, help="Also what is noted about single children.")
@click.option(
    "--dictionary", "explain", is_flag=True, help="Print what each column means, and write nothing."
)
@click.pass_obj
def export(home: Home, folder: Path | None, form: str, *, with_individual_notes: bool, explain: bool) -> None:
    """Write the lessons that are over into FOLDER, a file a table, for a spreadsheet or another program.

    Nothing about single children is in it unless you ask for it by name.
    """
    shapes = (*SHAPES, NOTES) if with_individual_notes else SHAPES
    if explain:
        click.echo(dictionary(shapes), nl=False)
        return
    if folder is None:
        raise click.UsageError(_("Name the folder to write into, or say --dictionary."))
    click.echo(_(EXPORT_CAUTION), err=True)
    with open_log(home.log) as log:
        counts = hand_out(log, folder, form, shapes)
    rows = ", ".join(f"{name} {count}" for name, count in counts.items())
    click.echo(
        many(
            "{count} table with its dictionary is in {folder} (rows: {rows}).",
            "{count} tables with their dictionary are in {folder} (rows: {rows}).",
            len(counts),
            folder=folder,
            rows=rows,
        )
    )
