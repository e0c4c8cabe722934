"""Sessions drawn from all kinds of events, for the properties of the fold and of the log.

Every field is drawn by its type; names of phases, marks and notes are drawn so that they are often there.
"""

from collections.abc import Iterable
from dataclasses import fields
from types import NoneType, UnionType
from typing import Any, Union, get_args, get_origin, get_type_hints

from hypothesis import strategies as st

from companion.lesson import event as ev
from companion.lesson.mark import PART_OF_CLASS, WHOLE_CLASS
from tests.lesson.builders import PLAN

MOST = 30
"""No session that is drawn is longer, so that numbers of events often name one."""
NUMBERS = st.integers(2, MOST)
WORDS = {
    "phase": st.sampled_from([*(phase.name for phase in PLAN), "recess", ""]),
    "mark": NUMBERS.map("m{}".format),
    "near_miss": NUMBERS.map("c{}".format),
    "note": NUMBERS.map("n{}".format),
    "scope": st.sampled_from([WHOLE_CLASS, PART_OF_CLASS, "table one"]),
    "level": st.sampled_from(["Harvest table", "Turned soil"]),
    "child": st.sampled_from(["seat 3", "K. T."]),
}
"""Texts by the name of their field; any other text is any text."""


def _drawn(name: str, kind: Any) -> st.SearchStrategy[Any]:  # noqa: ANN401, PLR0911 - a type as it is written; one case a kind of type
    if get_origin(kind) in (Union, UnionType):
        parts = [_drawn(name, part) for part in get_args(kind) if part is not NoneType]
        return st.one_of(*([st.none()] if NoneType in get_args(kind) else []), *parts)
    if get_origin(kind) is tuple and Ellipsis in get_args(kind):
        return st.lists(_drawn(name.removesuffix("s"), get_args(kind)[0]), max_size=3).map(tuple)
    if name == "taken_back":
        return NUMBERS
    if kind is int:
        return st.integers(0, 3_600_000)
    if kind is float:
        return st.floats(0, 1)
    if kind is str:
        return WORDS.get(name, st.text(max_size=8))
    if hasattr(kind, "__dataclass_fields__"):
        return built(kind)
    return st.from_type(kind)


def built(of: type) -> st.SearchStrategy[Any]:
    """Return what draws values of the dataclass `of`."""
    hints = get_type_hints(of)
    return st.builds(of, **{part.name: _drawn(part.name, hints[part.name]) for part in fields(of)})


KINDS: Iterable[type[ev.Body]] = ev.BODIES.values()
BODIES: st.SearchStrategy[ev.Body] = st.one_of(*(built(kind) for kind in KINDS))
"""An event of any kind."""
