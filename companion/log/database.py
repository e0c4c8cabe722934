"""sqlite-utils as the log uses it: without numpy.

It imports numpy, where that is installed, only to know the column types of numpy's numbers, and none of them
comes into the log. A command that reads the log would spend a third of its imports on it.
"""

import sys
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from importlib.abc import MetaPathFinder


class _WithoutNumpy(MetaPathFinder):
    """Finds no numpy for one thread. Any other may import it meanwhile: nothing is hidden from that."""

    def __init__(self) -> None:
        self._thread = threading.get_ident()

    def find_spec(self, name: str, path: Sequence[str] | None, target: object = None) -> None:  # noqa: ARG002
        """Leave every other module, and every other thread, to the finders that follow."""
        if name == "numpy" and threading.get_ident() == self._thread:
            raise ModuleNotFoundError(name=name)


@contextmanager
def _without_numpy() -> Iterator[None]:
    finder = _WithoutNumpy()
    # Whoever goes along the list just now sees one finder twice; of a new list it sees nothing.
    sys.meta_path.insert(0, finder)
    try:
        yield
    finally:
        sys.meta_path = [one for one in sys.meta_path if one is not finder]


with _without_numpy():
    from sqlite_utils import Database, Migrations

__all__ = ["Database", "Migrations"]
