"""What the documentation shows must work."""

import re
from importlib.resources import files
from pathlib import Path

from companion.cli import COMMANDS
from companion.settings.settings import parse_settings

README = Path(__file__).parent.parent / "README.md"
PLAN = '[[plans]]\nname = "garden lesson"\nphases = [{ name = "arrival", minutes = 5 }]\n'


def test_settings_in_the_readme_are_valid() -> None:
    """Every settings example is read by the program as it stands."""
    examples = re.findall(r"```toml\n(.*?)```", README.read_text(encoding="utf-8"), re.DOTALL)
    assert len(examples) == 2
    for example in examples:
        parse_settings(PLAN + example, "README.md")


def test_the_readme_names_only_commands_that_there_are() -> None:
    """Each `companion COMMAND` in it exists."""
    named = set(re.findall(r"\bcompanion ([a-z][a-z-]*)", README.read_text(encoding="utf-8")))
    named -= {"runs", "itself", "brings", "listens", "is"}
    assert len(named) > 20
    assert named <= set(COMMANDS)


def test_the_starter_settings_have_keys() -> None:
    """A new user can praise, remind, undo, move on, pause and resume by key from the first day."""
    starter = files("companion.settings").joinpath("starter.toml").read_text(encoding="utf-8")
    settings = parse_settings(starter, "starter.toml")
    assert len(settings.bindings.commands) == 6
