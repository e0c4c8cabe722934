"""What goes to the terminal: names and notes as they are, but no control character that they hold."""

import io
import os
import re
import sys
import unicodedata

from companion.lesson.signs import OBEYED, sign

_OWN = r"\x1b(?:\[[0-9;]*m|\[2K|\[1A|\[\?25[hl])|\r(?=\x1b\[2K)"
"""What the program itself sends: styles, and a line of progress that is written over."""
_CONTROL = re.compile(rf"(?P<own>{_OWN})|{OBEYED}|[\u200e\u200f\u2068\u2069]")
"""A terminal obeys these: it would move, clear, rename or copy, or show letters in another order."""


def shown(text: str, *, styled: bool = True) -> str:
    """Return `text` with each control character as a sign for itself, as ␛ for the escape character.

    styled: leave what the program itself sends to a terminal.
    """
    return _CONTROL.sub(lambda found: found[0] if styled and found["own"] else _signs(found[0]), text)


def wide(text: str, columns: int) -> str:
    """Return `text` with blanks up to a width in columns, of which a letter of East Asia takes two."""
    taken = sum(2 if unicodedata.east_asian_width(letter) in "WF" else 1 for letter in text)
    return text + " " * (columns - taken)


def _signs(text: str) -> str:
    return "".join(sign(letter) if _CONTROL.match(letter) else letter for letter in text)


class Terminal(io.TextIOWrapper):
    """A standard stream that shows control characters instead of sending them."""

    def write(self, text: str) -> int:
        """Write `text` as it can be shown."""
        # The program styles nothing that goes elsewhere: what looks like it there is somebody's text.
        super().write(shown(text, styled=self.isatty() or "FORCE_COLOR" in os.environ))
        return len(text)


def guard_streams() -> None:
    """Let everything that is printed from now on go through `shown`, in UTF-8 wherever it goes."""
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if hasattr(stream, "buffer"):
            stream.flush()
            setattr(sys, name, Terminal(stream.buffer, "utf-8", "replace", line_buffering=True))
