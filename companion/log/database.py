"""sqlite-utils as the log uses it: without numpy.

It imports numpy, where that is installed, only to know the column types of numpy's numbers, and none of them
comes into the log. A command that reads the log would spend a third of its imports on it.
"""

import sys

_LOADED = "numpy" in sys.modules
if not _LOADED:
    # An import of what is None here fails at once, and sqlite-utils goes on without.
    sys.modules["numpy"] = None  # type: ignore[assignment]
try:
    from sqlite_utils import Database, Migrations
finally:
    if not _LOADED:
        del sys.modules["numpy"]

__all__ = ["Database", "Migrations"]
