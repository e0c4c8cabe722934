"""Signs for characters that nobody sees, but that terminals, programs and the order of letters obey."""

import re

OBEYED = r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066\u2067\ufeff]"
"""Control characters without line and tab, those that turn the order of letters around, a byte order mark.
The marks of direction that texts from right to left are written with are none of them, and neither are those
that keep a name in a sentence apart (`companion.language` puts them there): they turn nothing around them."""
_OBEYED = re.compile(OBEYED)


def sign(character: str) -> str:
    """Return the sign for one character, as ␛ for the escape character."""
    code = ord(character)
    if code < 0x20:
        return chr(0x2400 + code)
    return "␡" if code == 0x7F else f"\\u{code:04x}"


def with_signs(text: str) -> str:
    """Return `text` with a sign for each character that is obeyed."""
    return _OBEYED.sub(lambda found: sign(found[0]), text)
