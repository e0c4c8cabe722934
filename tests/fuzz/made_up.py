"""What parsers are given: odd words, odd JSON, and what is right but for one place."""

import json
from collections.abc import Iterator, Sequence
from typing import Any

from hypothesis import strategies as st

Path = tuple[str | int, ...]
"""A place in a JSON document: the keys and indices that lead to it."""

JSON: st.SearchStrategy[Any] = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4),
    max_leaves=12,
)
ODD = st.sampled_from(
    ["", "'", '"', "<b>", "\u202e", "\x00", "\x1b[2J", "🌱", "=1+1", "é" * 300, "../..", "%00", "\ud7ff"]
)
TEXT = st.text(max_size=60) | ODD


def spliced(whole: bytes) -> st.SearchStrategy[bytes]:
    """Give `whole` with a stretch of it replaced, cut off or doubled."""
    place = st.integers(0, len(whole))
    return st.builds(
        lambda begin, end, piece: whole[:begin] + piece + whole[end:], place, place, st.binary(max_size=64)
    )


def touched(whole: bytes) -> st.SearchStrategy[bytes]:
    """Give `whole` with up to eight of its bytes changed; its length stays."""
    return st.lists(st.tuples(st.integers(0, len(whole) - 1), st.integers(0, 255)), max_size=8).map(
        lambda changes: _changed(whole, changes)
    )


def altered(document: Any) -> st.SearchStrategy[Any]:  # noqa: ANN401 - any JSON
    """Give the JSON `document` with anything else in one of its places."""
    return st.builds(_with, st.just(document), st.sampled_from(sorted(_places(document), key=str)), JSON)


def _changed(whole: bytes, changes: Sequence[tuple[int, int]]) -> bytes:
    content = bytearray(whole)
    for at, value in changes:
        content[at] = value
    return bytes(content)


def _places(document: Any) -> Iterator[Path]:  # noqa: ANN401
    yield ()
    if isinstance(document, dict | list):
        keys = document if isinstance(document, dict) else range(len(document))
        yield from ((key, *place) for key in keys for place in _places(document[key]))


def _with(document: Any, place: Path, piece: Any) -> Any:  # noqa: ANN401
    if not place:
        return piece
    fresh = json.loads(json.dumps(document))
    here = fresh
    for key in place[:-1]:
        here = here[key]
    here[place[-1]] = piece
    return fresh
