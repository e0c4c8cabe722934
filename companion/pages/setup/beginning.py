"""The first settings of an empty home, from which the way in begins."""

from collections.abc import Mapping
from typing import Any

import tomlkit

from companion.errors import CompanionError
from companion.language import ENGLISH, _, spoken
from companion.pages.setup.steps import WayIn
from companion.paths import Home
from companion.settings.file import put_language, replace
from companion.settings.phrase_packs import LANGUAGES, starter_text
from companion.settings.settings import read_text


def begin(home: Home, language: str = "en", words: str = "") -> bool:
    """Write starter settings for a school that is not named yet, and begin to lead; False if there are any.

    language: of the phrases. words: the language that the program speaks; empty if none was chosen.

    Raises CompanionError when the disk does not take them.
    """
    if home.create().settings.exists():
        return False
    document = tomlkit.parse(starter_text(language))
    school = document["school"]
    assert isinstance(school, tomlkit.items.Table)
    school["name"] = school["room"] = ""
    if words:
        put_language(document, words)
    WayIn(over=False).keep(home)
    replace(home.settings, tomlkit.dumps(document))
    return True


def other_starters(values: Mapping[str, Any]) -> list[str]:
    """Return the languages in which one could begin instead: that of the pages and English.

    values: the settings as they stand. None once anything of phrases, plans or levels was changed.
    """
    own = values.get("listening", {}).get("language", ENGLISH)
    if own not in LANGUAGES or _begun(values) != _begun(tomlkit.parse(starter_text(own)).unwrap()):
        return []
    return [code for code in dict.fromkeys((spoken(), ENGLISH)) if code in LANGUAGES and code != own]


def begin_in(home: Home, language: str) -> None:
    """Take the starter settings of another language; what the school is called and the pages' language stay.

    Raises CompanionError where something was changed already, or the disk does not take them.
    """
    before = tomlkit.parse(read_text(home.settings)).unwrap()
    if language not in other_starters(before):
        raise CompanionError(
            _("The phrases, plan and levels are not those any more that you began with."),
            safe=_("Nothing was changed."),
            remedy=_("Change them one by one, each on its page."),
        )
    document = tomlkit.parse(starter_text(language))
    school = document["school"]
    assert isinstance(school, tomlkit.items.Table)
    school["name"], school["room"] = (before["school"].get(key, "") for key in ("name", "room"))
    if "words" in before:
        document["words"] = before["words"]
    replace(home.settings, tomlkit.dumps(document))


def _begun(values: Mapping[str, Any]) -> dict[str, Any]:
    """Return what of settings a language brings, beside what every school says for itself."""
    return {name: value for name, value in values.items() if name not in ("school", "words")}
