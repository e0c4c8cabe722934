"""Which letters the pages can draw: those of the fonts that come with the program, and of the computer's."""

import re
import shutil
import subprocess
import sys
from collections.abc import Iterable
from functools import cache
from pathlib import Path

FONTS = Path(__file__).parent / "static" / "fonts" / "fonts.css"
RANGE = re.compile(r"U\+([0-9A-F]+)(?:-([0-9A-F]+))?")
LOOK_S = 5.0


def undrawable(names: Iterable[str]) -> str:
    """Return the letters in `names` that no font can draw, each once."""
    letters = dict.fromkeys(letter for name in names for letter in name)
    return "".join(letter for letter in letters if not _bundled(ord(letter)) and not _installed(letter))


def _bundled(code: int) -> bool:
    return any(first <= code <= last for first, last in _ranges())


@cache
def _ranges() -> tuple[tuple[int, int], ...]:
    """Return the ranges of code points that the bundled fonts are used for."""
    css = FONTS.read_text(encoding="ascii")
    found = (RANGE.findall(line.partition("unicode-range:")[2]) for line in css.splitlines())
    return tuple((int(first, 16), int(last or first, 16)) for ranges in found for first, last in ranges)


@cache
def _installed(letter: str) -> bool:
    """Return whether a font of the computer has `letter`: asked of fontconfig; other systems draw it."""
    asked = shutil.which("fc-list")
    if sys.platform in ("win32", "darwin") or asked is None:
        return sys.platform in ("win32", "darwin")
    command = [asked, f":charset={ord(letter):x}", "family"]
    try:
        told = subprocess.run(command, capture_output=True, timeout=LOOK_S, check=False)  # noqa: S603 - our own words
    except (OSError, subprocess.TimeoutExpired):
        return False
    return bool(told.stdout.strip())
