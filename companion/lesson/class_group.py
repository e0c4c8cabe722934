"""What the name of a class group tells."""

import re
from functools import lru_cache


@lru_cache(maxsize=1_000)
def grade_of(class_group: str) -> str:
    """Return the grade in a class group's name, as `4` in `4-Hazel`; the whole name where there is none."""
    found = re.match(r"\d+|[^-\s]+", class_group)
    return found.group() if found else class_group
