"""`[words]`: in which language the program speaks."""

from typing import Literal

from companion.settings.section import Section

Code = Literal["", "en", "es", "ko"]
"""One of `companion.language.LANGUAGES`, or none."""


class WordsSection(Section):
    """`[words]` of the settings file."""

    language: Code = ""
    """Of pages, terminal and notices; empty: English."""
    note_language: Code = ""
    """Of the hand-off note; empty: that of the pages."""
