"""Which room may import which: down the table in DEVELOPERS.md, never up, never in a circle."""

import ast
import re
from collections.abc import Iterator
from graphlib import TopologicalSorter
from pathlib import Path

TOP = Path(__file__).parents[1]
ROWS = [
    tuple(re.findall(r"`([a-z_/]+)`", row))
    for row in re.findall(
        r"^\| (`[a-z_/]+`.*?) \|", (TOP / "DEVELOPERS.md").read_text(encoding="utf-8"), re.MULTILINE
    )
]
"""The rooms and modules of `companion/` in the order in which imports may run; a room ends with a slash."""
PLACE = {name: place for place, row in enumerate(ROWS) for name in row}
ABOVE, BELOW = {"cli", "__main__"}, {"errors", "paths", "clock", "access", "language", "typed", "parent"}
"""Modules of the root: those that may import all, and those that all may import."""
MODULES = {
    ".".join(path.relative_to(TOP).with_suffix("").parts).removesuffix(".__init__"): path
    for path in (TOP / "companion").rglob("*.py")
}


def imported(tree: ast.AST) -> Iterator[str]:
    """Yield the modules of ours that are imported anywhere in `tree`."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names if alias.name in MODULES)
        if isinstance(node, ast.ImportFrom) and node.module in MODULES:
            inner = [f"{node.module}.{alias.name}" for alias in node.names]
            yield from (name if name in MODULES else str(node.module) for name in inner)


IMPORTS = {
    module: set(imported(ast.parse(path.read_text(encoding="utf-8")))) - {module}
    for module, path in MODULES.items()
}


def height(module: str) -> int:
    """Return how far down a module stands: its place in the table; the root is above and below it."""
    inside = module.removeprefix("companion").removeprefix(".").replace(".", "/")
    if inside in BELOW or not inside:
        return len(ROWS)
    if inside in ABOVE:
        return -1
    within = [
        name for name in PLACE if name == inside or (f"{inside}/".startswith(name) and name.endswith("/"))
    ]
    assert within, f"{module} stands in no room of the table"
    return PLACE[max(within, key=len)]


def test_every_import_runs_down_the_table() -> None:
    """Also one that waits inside a function."""
    up = [
        f"{module} imports {other}"
        for module, others in IMPORTS.items()
        for other in others
        if height(other) < height(module)
    ]
    assert sorted(up) == []


def test_no_modules_import_each_other_in_a_circle() -> None:
    """Of whichever length."""
    order = list(TopologicalSorter(IMPORTS).static_order())
    assert set(order) == set(MODULES)
