"""In which language a home speaks, read before and without all other settings: every command asks for it."""

import re
from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from companion.language import ENGLISH, LANGUAGES
from companion.settings.tables import tables_in

TABLE = re.compile(r"^\s*\[?\s*words\b", re.MULTILINE)


@dataclass(frozen=True, slots=True)
class ChosenLanguage:
    """What `[words]` of the settings file says."""

    own: str = ""
    """Of pages, terminal and notices; empty where none was chosen."""
    note: str = ENGLISH
    """Of the hand-off note."""


def chosen_language(path: Path) -> ChosenLanguage:
    """Return the languages that the settings file `path` asks for; what can't be read asks for none."""
    with suppress(OSError, ValueError):
        return _chosen_in(path.read_text(encoding="utf-8-sig"))
    return ChosenLanguage()


@lru_cache(maxsize=2)
def _chosen_in(text: str) -> ChosenLanguage:
    # Taking a whole file apart costs more than all else that a short command does.
    words = tables_in(text).get("words") if TABLE.search(text) else None
    if not isinstance(words, dict):
        return ChosenLanguage()
    own, note = (_known(words.get(key)) for key in ("language", "note_language"))
    return ChosenLanguage(own, note or own or ENGLISH)


def _known(code: object) -> str:
    return code if isinstance(code, str) and code in LANGUAGES else ""
