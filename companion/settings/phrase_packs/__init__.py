"""Starter settings by language: cue, phrases, plan, notes and levels, ready for `companion init`."""

from importlib.resources import files

from companion.errors import CompanionError
from companion.language import _

LANGUAGES = ("en", "es", "ko")
"""Languages with starter settings. The English ones are the companion's own starter."""


def starter_text(language: str) -> str:
    """Return the starter settings for a language as TOML. Raises CompanionError when there are none."""
    if language not in LANGUAGES:
        raise CompanionError(
            _("There are no starter settings for the language “{language}”.", language=language),
            remedy=_(
                "Start from one of {languages} and put your own phrases in.", languages=", ".join(LANGUAGES)
            ),
        )
    folder = files("companion.settings")
    file = folder / "starter.toml" if language == "en" else folder / "phrase_packs" / f"{language}.toml"
    return file.read_text(encoding="utf-8")
