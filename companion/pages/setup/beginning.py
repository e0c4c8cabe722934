"""The first settings of an empty home, from which the way in begins."""

import tomlkit

from companion.pages.setup.steps import WayIn
from companion.paths import Home
from companion.settings.file import put_language, replace
from companion.settings.phrase_packs import starter_text


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
