"""`companion run`, `start`, `stop` and `status`: the process that goes on all day."""

import json

import click

from companion.background.client import start as start_background
from companion.background.client import stop as stop_background
from companion.background.control import NO_TROUBLE, ask
from companion.commands.terminal import wide
from companion.language import _
from companion.paths import Home


@click.command()
@click.option("--mend", is_flag=True, help="With settings that can't be used, serve the pages to mend them.")
@click.pass_obj
def run(home: Home, *, mend: bool) -> None:
    """Be the companion in this window, until Ctrl+C."""
    from companion.background.run import run as run_here  # noqa: PLC0415 - it has the whole program in it

    run_here(home, mend=mend)


@click.command()
@click.pass_obj
def start(home: Home) -> None:
    """Start the companion in the background."""
    trouble = str(start_background(home)["trouble"])
    click.echo(_("The companion runs. The microphone opens only while a session is open."))
    if trouble != NO_TROUBLE:
        click.echo(_line("trouble", trouble))


@click.command()
@click.pass_obj
def stop(home: Home) -> None:
    """Stop the companion. A session that is open goes on at the next start."""
    stop_background(home, click.echo)
    click.echo(_("The companion has ended."))


@click.command()
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@click.pass_obj
def status(home: Home, *, as_json: bool) -> None:
    """Say what is open and how microphone, keys and engine are, in twelve lines."""
    lines = ask(home.control, {"do": "status"})
    if home.profile:
        lines = {"profile": home.profile} | lines
    if as_json:
        click.echo(json.dumps(lines, ensure_ascii=False))
        return
    for label, text in lines.items():
        # That there is no trouble is sent in English: other programs go by it.
        click.echo(_line(label, _(text) if label == "trouble" else text))


def _line(label: str, text: str) -> str:
    return f"{wide(_(label) + ':', 12)} {text}"
