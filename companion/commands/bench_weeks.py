"""`companion bench-weeks`: how often findings over weeks mislead, on simulated classes."""

import click


@click.command("bench-weeks")
@click.option(
    "--terms", default=40, show_default=True, type=click.IntRange(1), help="Simulated terms of each kind."
)
@click.option("--seed", default=11, show_default=True, help="Another seed simulates other terms.")
def bench_weeks(terms: int, seed: int) -> None:
    """Measure how often "teach again" and "it helped" are wrong, where the truth is known."""
    from companion.bench.weeks import report  # noqa: PLC0415 - numpy takes its time to import

    for line in report(seed, terms):
        click.echo(line)
