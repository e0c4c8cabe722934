"""The program's own words in the language of who reads them, by the gettext catalogues in `locale/`.

What a user reads is written in English, as a whole sentence, and goes through one of these:

    _("There is no plan '{name}'.", name=wanted)
    many("{count} mark", "{count} marks", 3)
    TITLE = later("The week")          # in a table or constant; shown by _(TITLE)
    word("mark", "kept")               # "kept" of a promise is another word in other languages
"""

import gettext
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from companion.typed import as_typed

LOCALE = Path(__file__).parent / "locale"


@dataclass(frozen=True, slots=True)
class Language:
    """A language that the program can speak."""

    name: str
    """What it calls itself."""
    point: str = "."
    """Stands before the decimals of a number."""
    direction: str = "ltr"
    """Which way it is written, as HTML says it: `ltr` or `rtl`."""


ENGLISH = "en"
LANGUAGES = {ENGLISH: Language("English"), "es": Language("Español", point=","), "ko": Language("한국어")}
"""By the code of the language; English stands in the program itself."""

_default = ENGLISH
_here: ContextVar[str] = ContextVar("language", default="")


def speak(code: str) -> None:
    """Speak the language `code` from now on, wherever no other one is asked for."""
    global _default  # noqa: PLW0603 - the one language of the process
    _default = code


@contextmanager
def speaking(code: str) -> Iterator[None]:
    """Speak the language `code` within: for one page, or a note in another language."""
    token = _here.set(code)
    try:
        yield
    finally:
        _here.reset(token)


def spoken() -> str:
    """Return the code of the language that is spoken here."""
    return _here.get() or _default


def language() -> Language:
    """Return the language that is spoken here."""
    return LANGUAGES[spoken()]


@cache
def catalogue(code: str) -> gettext.NullTranslations:
    """Return all translations into the language `code`; there is one file a room."""
    whole = gettext.NullTranslations()
    for path in sorted((LOCALE / code / "LC_MESSAGES").glob("*.mo")):
        with path.open("rb") as file:
            room = gettext.GNUTranslations(file)
        room.add_fallback(whole)
        whole = room
    return whole


def _(message: str, /, **values: object) -> str:
    """Return `message` in the language that is spoken here, with `values` in its braces, if there are any."""
    # The empty message of a catalogue is its header.
    said = as_typed(catalogue(spoken()).gettext(message)) if message else ""
    return said.format(**kept_apart(values)) if values else said


def many(one: str, more: str, count: int, /, **values: object) -> str:
    """Return the form that fits `count`, which stands in it as {count}."""
    return form(one, more, count).format(count=count, **kept_apart(values))


def form(one: str, more: str, count: int) -> str:
    """Return the form that fits `count`, with its braces."""
    return as_typed(catalogue(spoken()).ngettext(one, more, count))


def kept_apart(values: Mapping[str, object]) -> Mapping[str, object]:
    """Return the values of a sentence, each kept apart from the words around it where these run to the left.

    Otherwise `4-Hazel` would be read as Hazel-4 there. By Unicode's own marks for it (UAX 9, FSI and PDI).
    """
    if language().direction == "ltr":
        return values
    # Adding keeps HTML that was made harmless what it is.
    return {
        name: "\u2068" + (value if isinstance(value, str) else str(value)) + "\u2069"
        for name, value in values.items()
    }


def word(about: str, message: str) -> str:
    """Return a word that English has for several things, as the language has it for the thing `about`."""
    return catalogue(spoken()).pgettext(about, message)


def later(message: str) -> str:
    """Return `message` as it is: it is gathered for the translators, and translated where it is shown."""
    return message


def later_word(about: str, message: str) -> str:  # noqa: ARG001 - gathered, too
    """Return `message` as it is: it is gathered, and translated by `word` where it is shown."""
    return message


def later_many(one: str, more: str) -> tuple[str, str]:
    """Return both forms as they are: they are gathered, and the one that fits is taken where it is shown."""
    return one, more


def decimal(value: float, digits: int) -> str:
    """Return a number with so many decimals, as the language writes it."""
    return f"{value:.{digits}f}".replace(".", language().point)
