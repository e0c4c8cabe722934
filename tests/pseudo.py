"""A language that nobody speaks: every sentence of the program in Hebrew letters, longer, from right to left.

What is still in Latin letters then did not go through the catalogues, and what does not fit or stands on the
wrong side would not in a language that is longer or is written the other way round.
"""

import gettext
import re

import pytest

from companion import language
from companion.language import ENGLISH, Language

LETTERS = "אבגדהוזחטיכלמנסעפצקרשת"
KEPT = re.compile(r"(<(?:kbd|code)>[^<]*</(?:kbd|code)>|<[^>]*>|\{[^}]*\}|&\w+;)")


def in_pseudo(message: str) -> str:
    """Return a sentence with its values and tags, its words in other letters and a third longer."""
    return "".join(part if KEPT.fullmatch(part) else _words(part) for part in KEPT.split(message))


def _words(text: str) -> str:
    """Return words in Hebrew letters, each with as many letters more as a longer language has."""

    def longer(word: re.Match[str]) -> str:
        said = "".join(LETTERS[ord(letter.lower()) % len(LETTERS)] for letter in word[0])
        return said + said[: (len(said) + 1) // 3]

    return re.sub(r"[A-Za-z]+", longer, text)


class PseudoTranslations(gettext.NullTranslations):
    """The catalogues of that language."""

    def gettext(self, message: str) -> str:
        """Return a sentence."""
        return in_pseudo(message)

    def pgettext(self, context: str, message: str) -> str:  # noqa: ARG002
        """Return a word."""
        return in_pseudo(message)

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        """Return a form of a sentence."""
        return in_pseudo(msgid1 if n == 1 else msgid2)


@pytest.fixture
def pseudo_language(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the program speak it wherever it would speak English."""
    monkeypatch.setattr(language, "catalogue", lambda _code: PseudoTranslations())
    monkeypatch.setitem(language.LANGUAGES, ENGLISH, Language("English", direction="rtl"))
