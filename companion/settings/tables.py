"""The text of a settings file taken apart: once, for as long as it is the same."""

import tomllib
from collections.abc import Mapping
from functools import lru_cache
from typing import Any


@lru_cache(maxsize=2)
def tables_in(text: str) -> Mapping[str, Any]:
    """Return the tables in `text`, not to be changed. Raises tomllib.TOMLDecodeError if it is no TOML."""
    return tomllib.loads(text)
