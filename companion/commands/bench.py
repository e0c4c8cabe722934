"""`companion bench`: how well the spotters do on a labelled folder of recordings."""

import json
from pathlib import Path

import click
from rich.console import Console

from companion.listening.bench.conditions import ALL, NEAR
from companion.listening.bench.engines import openers
from companion.listening.bench.folder import draw as draw_takes
from companion.listening.bench.folder import read_folder
from companion.listening.bench.measure import run
from companion.listening.bench.report import as_data, draw, show


@click.command()
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False))
@click.option(
    "--take-count", "take_counts", default="5", show_default=True, help="One count, or several: 5,10."
)
@click.option("--engine", "engines", multiple=True, help="Only these engines; may be repeated.")
@click.option("--seed", default=0, show_default=True, help="Decides which takes, rooms and noises are drawn.")
@click.option("--near-only", is_flag=True, help="Leave out the conditions far away.")
@click.option(
    "--picture", type=click.Path(path_type=Path, dir_okay=False), help="Draw the curves here (PNG)."
)
@click.option("--json", "as_json", is_flag=True, help="Print everything as JSON.")
def bench(  # noqa: PLR0917 (click hands over by name)
    folder: Path,
    take_counts: str,
    engines: tuple[str, ...],
    seed: int,
    near_only: bool,
    picture: Path | None,
    as_json: bool,
) -> None:
    """Measure misses, false alarms, speed and cost of every engine on the recordings in FOLDER.

    DEVELOPERS.md describes the folder. Nothing in it is used to set a threshold.
    """
    labelled = read_folder(folder)
    console = Console(width=170)
    told = []
    for count in (int(part) for part in take_counts.split(",")):
        drawn = draw_takes(labelled, count, seed)
        ready = {name: opener for name, opener in openers(drawn).items() if not engines or name in engines}
        runs = []
        for name, opener in ready.items():
            click.echo(f"{name}, {count} takes …", err=True)
            runs.append(run(name, opener, drawn, NEAR if near_only else ALL, seed=seed))
        told.append(as_data(runs, count))
        if not as_json:
            show(runs, count, console)
        if picture:
            draw(runs, picture.with_stem(f"{picture.stem}-{count}") if "," in take_counts else picture)
    if as_json:
        print(json.dumps(told, ensure_ascii=False))
