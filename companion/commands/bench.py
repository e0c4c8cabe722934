"""`companion bench`: how well the spotters do on a labelled folder of recordings."""

import json
from collections.abc import Iterator
from pathlib import Path

import click
from rich.console import Console

from companion.bench.conditions import ALL, AS_RECORDED, NEAR, with_own_noise
from companion.bench.engines import preparations
from companion.bench.folder import Labelled, read_folder
from companion.bench.folder import draw as draw_takes
from companion.bench.measure import run
from companion.bench.report import as_data, draw, show
from companion.bench.samples import from_samples
from companion.errors import CompanionError
from companion.language import _
from companion.listening.spotter import NewSpotter
from companion.paths import Home


@click.command()
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False), required=False)
@click.option(
    "--take-count", "take_counts", default="5", show_default=True, help="One count, or several: 5,10."
)
@click.option("--engine", "engines", multiple=True, help="Only these engines; may be repeated.")
@click.option("--seed", default=0, show_default=True, help="Decides which takes, rooms and noises are drawn.")
@click.option(
    "--jobs", default=1, show_default=True, help="Spread the work over so many processes (not on Windows)."
)
@click.option("--near-only", is_flag=True, help="Leave out the conditions far away.")
@click.option(
    "--picture", type=click.Path(path_type=Path, dir_okay=False), help="Draw the curves here (PNG)."
)
@click.option("--json", "as_json", is_flag=True, help="Print everything as JSON.")
@click.pass_obj
def bench(  # noqa: PLR0917 (click hands over by name)
    home: Home,
    folder: Path | None,
    take_counts: str,
    engines: tuple[str, ...],
    seed: int,
    jobs: int,
    near_only: bool,
    picture: Path | None,
    as_json: bool,
) -> None:
    """Measure misses, false alarms, speed and cost of every engine on the recordings in FOLDER.

    Without FOLDER the phrases and the talk of the bundled sample sessions are taken, each as it was in its
    room. DEVELOPERS.md describes the folder. Nothing in it is used to set a threshold.
    """
    labelled = read_folder(folder) if folder else from_samples()
    console = Console(width=190)
    conditions = AS_RECORDED if folder is None else NEAR if near_only else ALL
    if labelled.rooms:
        conditions = with_own_noise(conditions)
    told = []
    for count in (int(part) for part in take_counts.split(",")):
        drawn = draw_takes(labelled, count, seed)
        runs = [
            run(name, new_spotter, drawn, conditions, seed=seed, jobs=jobs)
            for name, new_spotter in _prepared(drawn, home, engines)
        ]
        if not runs:
            raise CompanionError(
                _("No engine can hear these recordings."),
                remedy=_("The reasons stand above, engine by engine."),
            )
        told.append(as_data(runs, drawn, count))
        if not as_json:
            show(runs, drawn, count, console)
        if picture:
            draw(runs, picture.with_stem(f"{picture.stem}-{count}") if "," in take_counts else picture)
    if as_json:
        print(json.dumps(told, ensure_ascii=False))


def _prepared(drawn: Labelled, home: Home, engines: tuple[str, ...]) -> Iterator[tuple[str, NewSpotter]]:
    """Yield every engine that can hear the recordings, of `engines` if any; tell why another can't."""
    for name, prepare in preparations(drawn, home.models).items():
        if engines and name not in engines:
            continue
        click.echo(f"{name} …", err=True)
        try:
            new_spotter = prepare()
        except CompanionError as error:
            click.echo(_("{name} is left out. {error}", name=name, error=error), err=True)
            continue
        yield name, new_spotter
