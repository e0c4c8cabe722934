"""A name means one thing in the whole program."""

import ast
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import pytest

COMPANION = Path(__file__).parents[1] / "companion"
ROOMS = ("lesson", "log", "recording", "settings", "pressing")
"""The rooms of which each module has a test file of its name."""


def names_of_kinds(tree: ast.Module) -> Iterator[str]:
    """Yield the names of classes and of kinds of values (`Append = Callable[…]`) that a module makes."""
    for node in tree.body:
        if isinstance(node, ast.ClassDef):
            yield node.name
        elif isinstance(node, ast.Assign):
            yield from (at.id for at in node.targets if isinstance(at, ast.Name) and not at.id.isupper())


def test_no_two_modules_call_different_things_by_one_name() -> None:
    """Classes and kinds of values; those that a module keeps for itself begin with an underscore."""
    places = defaultdict(list)
    for path in COMPANION.rglob("*.py"):
        for name in names_of_kinds(ast.parse(path.read_text(encoding="utf-8"))):
            if not name.startswith("_") and name[0].isupper():
                places[name].append(path.relative_to(COMPANION).as_posix())
    assert {name: files for name, files in places.items() if len(files) > 1} == {}


@pytest.mark.parametrize("room", ROOMS)
def test_every_module_has_a_test_file_of_its_name(room: str) -> None:
    """So that whoever changes one knows where its behaviour is told."""
    modules = {path.stem for path in (COMPANION / room).glob("*.py")} - {"__init__"}
    tested = {path.stem.removeprefix("test_") for path in (Path(__file__).parent / room).glob("test_*.py")}
    assert sorted(modules - tested) == []
