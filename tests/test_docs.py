"""What the documentation shows must work."""

import re
from importlib.resources import files
from pathlib import Path

import pytest

from companion.config import parse_settings

DOCS = Path(__file__).parent.parent / "docs"
PLAN = '[[plans]]\nname = "garden lesson"\nphases = [{ name = "arrival", minutes = 5 }]\n'


@pytest.mark.parametrize("page", ["keys.md", "timetable.md"])
def test_settings_in_the_documentation_are_valid(page: str) -> None:
    """Every settings example is read by the program as it stands."""
    examples = re.findall(r"```toml\n(.*?)```", (DOCS / page).read_text(encoding="utf-8"), re.DOTALL)
    assert examples
    for example in examples:
        parse_settings(PLAN + example, page)


def test_the_starter_settings_have_keys() -> None:
    """A new user can praise, remind, undo, move on, pause and resume by key from the first day."""
    starter = files("companion").joinpath("starter.toml").read_text(encoding="utf-8")
    settings = parse_settings(starter, "starter.toml")
    assert len(settings.bindings.commands) == 6
