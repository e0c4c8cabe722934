"""`companion bench-weeks`: how often findings over weeks mislead, on simulated classes."""

import click


@click.command("bench-weeks")
@click.option(
    "--terms",
    default=40,
    show_default=True,
    type=click.IntRange(1),
    help="Simulated terms of each kind and seed.",
)
@click.option(
    "--seed",
    "seeds",
    default=[11],
    show_default=True,
    multiple=True,
    help="Other seeds, other terms; all are summed.",
)
def bench_weeks(terms: int, seeds: tuple[int, ...]) -> None:
    """Measure how often "teach again" and "it helped" are wrong, where the truth is known."""
    from companion.bench.weeks import report  # noqa: PLC0415 - numpy takes its time to import

    for line in report(seeds, terms):
        click.echo(line)
