"""A name means one thing in the whole program."""

import ast
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

COMPANION = Path(__file__).parents[1] / "companion"


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
