"""`companion bench-live`: what a lesson costs on this machine, beside what it may cost."""

import json
from dataclasses import asdict

import click
import numpy as np
from rich.console import Console
from rich.table import Table

from companion.bench.live_lesson import Figures, measure
from companion.samples.sample import bundled_sample, sample_names


@click.command("bench-live")
@click.option(
    "--sample",
    default="calm-garden",
    show_default=True,
    type=click.Choice(sample_names()),
    help="Which sample session is played.",
)
@click.option("--seconds", default=3600.0, help="Most of the sample's sound to use; by default all of it.")
@click.option("--silence", default=30.0, show_default=True, help="Seconds of a quiet room.")
@click.option("--hours", default=0.25, show_default=True, help="Hours of sound for the look at memory.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
def bench_live(*, sample: str, seconds: float, silence: float, hours: float, as_json: bool) -> None:
    """Measure a lesson in real time, without microphone and keyboard: as long as the sample is."""
    figures = measure(
        bundled_sample(sample), seconds, silence, hours, lambda what: click.echo(f"{what} …", err=True)
    )
    if as_json:
        click.echo(json.dumps(asdict(figures)))
        return
    table = Table("what", "measured", "budget", title=f"A lesson with {figures.engine}", box=None)
    for row in _rows(figures):
        table.add_row(*row)
    Console(highlight=False, markup=False).print(table)


def _rows(figures: Figures) -> list[tuple[str, str, str]]:
    late, keys = figures.latencies_s, figures.keys_s
    marks = f"{np.median(late):.2f} s, 95 % {np.percentile(late, 95):.2f} s" if late else "none heard"
    growth = figures.hours_after_mb - figures.hours_before_mb
    return [
        (f"phrase end to mark ({len(late)} of {figures.spoken} marks)", marks, "0.7 s, 95 % 1.2 s"),
        (f"key to mark ({len(keys)} keys)", _milliseconds(keys), "50 ms"),
        ("one core, while somebody speaks", f"{figures.speech_core:.3f}", "0.25"),
        ("one core, in a quiet room", f"{figures.silence_core:.3f}", "0.05"),
        ("memory when a session opens", f"{figures.memory_mb:.0f} MB", "250 MB (400 MB with Vosk)"),
        ("memory after the lesson", f"{figures.memory_after_mb:.0f} MB", "the same"),
        (
            f"ear and recogniser over {figures.hours:g} h of sound",
            f"{figures.hours_before_mb:.0f} MB, then {growth:+.0f} MB",
            "no growth",
        ),
    ]


def _milliseconds(took_s: tuple[float, ...]) -> str:
    return f"median {np.median(took_s) * 1000:.0f} ms, 95 % {np.percentile(took_s, 95) * 1000:.0f} ms"
