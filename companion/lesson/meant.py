"""Which of the names that are known somebody meant who typed another one."""

from collections.abc import Iterable
from difflib import get_close_matches

ALIKE = 0.7
"""So alike are two names, as difflib counts it, one of which may be the other with a slip of the hand."""


def meant(typed: str, known: Iterable[str]) -> str | None:
    """Return the name of `known` that is most like `typed`, big and small letters alike; None if none is."""
    by_letters = {name.casefold(): name for name in known}
    like = get_close_matches(typed.casefold(), by_letters, n=1, cutoff=ALIKE)
    return by_letters[like[0]] if like else None
