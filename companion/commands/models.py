"""`companion models`: which speech models there are, and getting, adding, checking and removing them."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import click
from rich.console import Console
from rich.progress import BarColumn, DownloadColumn, Progress, TextColumn, TransferSpeedColumn
from rich.table import Table

from companion.errors import CompanionError
from companion.language import _, decimal
from companion.models import fetch, install
from companion.models.manifest import find_entry, known_models
from companion.models.places import FoundModel, find_model, find_models
from companion.models.probe import probe_model
from companion.paths import Home

_SHA256 = click.option("--sha256", help="The checksum that the archive must have.", metavar="HEX")


@click.group()
def models() -> None:
    """Speech models for the Vosk engine: list, get, add, check, remove."""


@models.command("list")
@click.pass_obj
def list_models(home: Home) -> None:
    """Show the models that can be fetched and those that are on this machine."""
    found = find_models(home.models)
    table = Table(box=None, pad_edge=False, padding=(0, 1, 0, 0))
    table.add_column(_("model"), no_wrap=True)
    for heading in (_("language"), _("size"), _("licence"), _("checksum"), _("here")):
        table.add_column(heading)
    for entry in known_models():
        here = [model for model in found if model.name in (entry.name, entry.package)]
        size = f"{entry.archive_mb} MB"
        table.add_row(entry.name, entry.language, size, entry.licence, entry.checksum_words, _where(here))
    for model in found:
        if find_entry(model.name) is None:
            table.add_row(model.name, model.language or "?", "", "?", "", _where([model]))
    console = Console(markup=False)
    console.print(table)
    console.print(_("A checksum that is not known yet is pinned by the first fetch."))
    console.print(_("Models are kept in {folder}.", folder=home.models), soft_wrap=True)


@models.command()
@click.argument("name")
@click.option(
    "--from", "mirror", metavar="ADDRESS", help="A mirror: the file itself, or a folder ending in /."
)
@click.option("--proxy", metavar="ADDRESS", help="A proxy; without it the system's settings hold.")
@_SHA256
@click.pass_obj
def get(home: Home, name: str, mirror: str | None, proxy: str | None, sha256: str | None) -> None:
    """Fetch the model NAME, check it and install it."""
    entry = find_entry(name)
    if entry is None:
        raise CompanionError(
            _("No model is called {name}.", name=name),
            remedy=_("See `companion models list`, or add a file of your own."),
        )
    with _progress(entry.name) as report:
        done = install.get_model(entry, home.models, report, mirror=mirror, proxy=proxy, sha256=_hex(sha256))
    _say_installed(done)


@models.command()
@click.argument("source", type=click.Path(path_type=Path))
@_SHA256
@click.pass_obj
def add(home: Home, source: Path, sha256: str | None) -> None:
    """Install a model from a zip file or folder, for example from a stick."""
    entry = find_entry(source.resolve().name.removesuffix(".zip"))
    _say_installed(install.add_model(source.resolve(), home.models, entry, sha256=_hex(sha256)))


@models.command()
@click.argument("name", required=False)
@click.pass_obj
def check(home: Home, name: str | None) -> None:
    """Check the files of every model, or of NAME, and load each once in a process of its own."""
    chosen = (_require(home, name),) if name else find_models(home.models)
    if not chosen:
        click.echo(_("No speech model is on this machine. See `companion models list`."))
    errors = [error for model in chosen if (error := _check_one(home, model)) is not None]
    if errors:
        raise errors[0]


@models.command()
@click.argument("name")
@click.option("--yes", is_flag=True, help="Don't ask.")
@click.pass_obj
def remove(home: Home, name: str, yes: bool) -> None:
    """Remove the model NAME from this machine."""
    found = _require(home, name)
    if not yes:
        click.confirm(_("Remove {path}?", path=found.path), abort=True)
    install.remove_model(found, home.models)
    click.echo(_("{name} is gone. Its checksum stays pinned.", name=name))


def _check_one(home: Home, model: FoundModel) -> CompanionError | None:
    try:
        against = install.check_files(model, home.models)
        figures = probe_model(model.path)
    except CompanionError as error:
        click.echo(f"{model.name}: {error}")
        return error
    good = _("{name}: good ({against}).", name=model.name, against=against)
    cost = _(
        "It loads in {seconds} s and takes {size} MB.",
        seconds=decimal(figures.load_s, 1),
        size=round(figures.resident_mb),
    )
    click.echo(f"{good} {cost}")
    return None


def _require(home: Home, name: str) -> FoundModel:
    found = find_model(name, home.models)
    if found is None:
        raise CompanionError(
            _("The speech model {name} is not on this machine.", name=name),
            remedy=_("See `companion models list`."),
        )
    return found


def _say_installed(done: install.Installed) -> None:
    click.echo(_("Installed in {path}.", path=done.path))
    if done.sha256:
        click.echo(f"SHA-256 {done.sha256}")
    click.echo(_("Checksum: {trust}.", trust=done.trust))


def _where(found: list[FoundModel]) -> str:
    return ", ".join(_("package") if model.package else _("yes") for model in found) or _("no")


def _hex(sha256: str | None) -> str | None:
    return sha256.strip().lower() if sha256 else None


@contextmanager
def _progress(name: str) -> Iterator[fetch.Progress]:
    columns = (TextColumn("{task.description}"), BarColumn(), DownloadColumn(), TransferSpeedColumn())
    with Progress(*columns, console=Console(stderr=True)) as bar:
        task = bar.add_task(name, total=None)
        yield lambda have, total: bar.update(task, completed=have, total=total)
