"""`[pages]`: how the pages show what happens."""

import tomllib
from contextlib import suppress

from companion.paths import Home
from companion.settings.section import Section
from companion.settings.tables import tables_in


class PagesSection(Section):
    """`[pages]` of the settings file."""

    light_marks: bool = False
    """Whether the window's edge lights up with each mark, for a teacher who can't hear the tone."""


def lights_of(home: Home) -> bool:
    """Return whether the edge lights, by the settings file as it is; False where it can't be read."""
    with suppress(OSError, tomllib.TOMLDecodeError):
        read = tables_in(home.settings.read_text(encoding="utf-8-sig"))
        return bool(read.get("pages", {}).get("light_marks", False))
    return False
