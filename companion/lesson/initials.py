"""Children's codes within other words: a class may see those words, and should not see a child in them."""

import re
from collections.abc import Iterable

ABBREVIATIONS = frozenset(
    {"AM", "BBQ", "CD", "DIY", "DVD", "ESL", "EU", "FAQ", "ICT", "ID", "IT", "LED", "NB", "OK", "PC", "PE"}
    | {"PM", "PS", "PTA", "PTO", "RE", "TV", "UK", "US", "USA", "UV"}
)
"""Capitals that stand for no child."""
DOTTED = frozenset({"a.m.", "p.m.", "e.g.", "i.e.", "p.s."})
_CODE = re.compile(
    r"(?<![\w.])(?:[^\W\d_]\.[ -]?){1,3}(?:[^\W\d_](?!\w)\.?|(?<=\.))"
    r"|(?<!\w)[^\W\d_]{2,3}(?!\w)"
    r"|(?<!\w)seat\s*\d{1,3}(?!\w)",
    re.IGNORECASE,
)


def codes_in(text: str, known: Iterable[str] = ()) -> tuple[str, ...]:
    """Return what in `text` may be a child's initials or seat number, in its order and each once.

    known: codes of children that have notes in the lesson; they are found however they look. Capitals without
    dots count if there are two or three and they are no usual abbreviation; lower case needs its dots.
    """
    found = [match[0].strip() for match in _CODE.finditer(text) if _may_be_a_child(match[0].strip())]
    found += [code for code in known if code and re.search(rf"(?<!\w){re.escape(code)}(?!\w)", text)]
    return tuple(dict.fromkeys(sorted(found, key=text.find)))


def _may_be_a_child(code: str) -> bool:
    if code[-1].isdigit():
        return True
    if "." in code:
        letters = [letter for letter in code if letter.isalpha()]
        return len(letters) > 1 and code.lower().replace(" ", "") not in DOTTED
    return code.isupper() and code not in ABBREVIATIONS
