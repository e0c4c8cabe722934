"""What the documentation shows must work."""

import re
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from companion.cli import COMMANDS, cli
from companion.settings.settings import parse_settings

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
SETTINGS = (ROOT / "companion" / "settings" / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
PLAN = '[[plans]]\nname = "garden lesson"\nphases = [{ name = "arrival", minutes = 5 }]\n'


@pytest.mark.parametrize(("page", "count"), [(README, 2), (SETTINGS, 3)], ids=["README", "settings"])
def test_settings_in_the_documents_are_valid(page: str, count: int) -> None:
    """Every settings example is read by the program as it stands."""
    examples = re.findall(r"```toml\n(.*?)```", page, re.DOTALL)
    assert len(examples) == count
    for example in examples:
        parse_settings(PLAN + example, "README.md")


def test_the_readme_is_short() -> None:
    """A teacher reads it before the first lesson."""
    assert len(README.splitlines()) <= 150


def test_the_readme_names_every_command_and_no_document_another() -> None:
    """Each `companion COMMAND` exists, and each command stands where a teacher reads of it."""
    called = re.compile(r"(?:`|^)companion ([a-z][a-z-]*)", re.MULTILINE)
    assert set(called.findall(README)) == set(COMMANDS)
    assert set(called.findall(SETTINGS + DEVELOPERS)) <= set(COMMANDS)


def test_every_command_and_option_explains_itself() -> None:
    """In words of its own; no command is cut short in the list."""
    listed = CliRunner().invoke(cli, ["--help"], terminal_width=80).stdout
    assert "..." not in listed.partition("Options")[2]
    for path, command in commands(cli):
        assert command.help, path
        for parameter in command.params:
            assert not isinstance(parameter, click.Option) or parameter.help, (path, parameter.name)


def commands(command: click.Command, path: str = "companion") -> Iterator[tuple[str, click.Command]]:
    """Yield a command and all beneath it, each with its path."""
    yield path, command
    if isinstance(command, click.Group):
        context = click.Context(command)
        for name in command.list_commands(context):
            found = command.get_command(context, name)
            assert found is not None
            yield from commands(found, f"{path} {name}")


def test_the_starter_settings_have_keys() -> None:
    """A new user can praise, remind, undo, move on, pause and resume by key from the first day."""
    starter = files("companion.settings").joinpath("starter.toml").read_text(encoding="utf-8")
    settings = parse_settings(starter, "starter.toml")
    assert len(settings.bindings.commands) == 6
