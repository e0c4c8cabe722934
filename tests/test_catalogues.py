"""Every sentence of the program is translated, whole, and no longer than its place bears."""

import gettext
import re
import unicodedata
from collections import Counter
from typing import get_args

import pytest

from companion.language import LANGUAGES, LOCALE
from companion.pages.script_words import SCRIPT_WORDS
from companion.settings.words import Code
from tests import catalogues
from tests.catalogues import TRANSLATIONS, Message, Said, folder_of, names_in, rooms, translations

AGAIN = "bring them up to date by python -m tests.catalogues, and write what is missing into the .po files"
LIMITS = ((10, 3.0), (20, 2.0), (30, 1.8), (50, 1.6), (70, 1.5))
"""By letters of the English: how many times as wide a translation may be; longer ones 1.4 times.

The growth that translators of programs reckon with, short words most:
https://www.w3.org/International/articles/article-text-size
"""
ON_BUTTONS = 1.8
"""For what stands on a button: it breaks no line."""
LEAST = 12
"""So wide anything may be, in letters."""
BUTTON = re.compile(r"<button[^>]*>\{\{ _\(\"([^\"]+)\"")


def width(text: str) -> int:
    """Return how wide a text is, in Latin letters: those of East Asia are twice as wide, tags are nothing."""
    plain = re.sub(r"<[^>]*>|\{\w+\}", "", text)
    return sum(2 if unicodedata.east_asian_width(letter) in "WF" else 1 for letter in plain)


def forms(words: Message | Said) -> tuple[str, ...]:
    """Return the one form of a sentence, or all."""
    return (words,) if isinstance(words, str) else words


@pytest.fixture(scope="module", params=TRANSLATIONS)
def said(request: pytest.FixtureRequest) -> dict[Message, Said]:
    """Return all translations into one language."""
    every: dict[Message, Said] = {}
    for path in folder_of(request.param).glob("*.po"):
        every |= translations(path)
    return every


def test_the_catalogues_are_what_the_code_says() -> None:
    """No sentence is missing, none is left over, none only guessed; what is compiled is what is written."""
    gathered = rooms()
    assert {path.name for path in LOCALE.iterdir()} == set(TRANSLATIONS)
    for code in TRANSLATIONS:
        folder = folder_of(code)
        assert {path.name for path in folder.iterdir()} == {
            f"{room}.{kind}" for room in gathered for kind in ("po", "mo")
        }, AGAIN
        for room, messages in gathered.items():
            written = translations(folder / f"{room}.po")
            assert set(written) == messages, f"{code}, {room}: {AGAIN}"
            missing = [message for message, words in written.items() if not all(forms(words))]
            assert missing == [], f"{code}, {room}: {AGAIN}"
            with (folder / f"{room}.mo").open("rb") as file:
                compiled = gettext.GNUTranslations(file)
            for message, words in written.items():
                if isinstance(message, tuple):
                    assert compiled.ngettext(*message, 1) == forms(words)[0], AGAIN
                else:
                    assert compiled.gettext(message) == words, AGAIN


def test_one_sentence_is_said_in_one_way() -> None:
    """Also where several rooms have it."""
    for code in TRANSLATIONS:
        ways: dict[Message, set[Said]] = {}
        for path in folder_of(code).glob("*.po"):
            for message, words in translations(path).items():
                ways.setdefault(message, set()).add(words)
        assert {message: words for message, words in ways.items() if len(words) > 1} == {}, code


def test_translations_have_the_same_values_and_tags(said: dict[Message, Said]) -> None:
    """A value that is not in the sentence would be an error in the middle of a lesson."""
    wrong = []
    for message, words in said.items():
        values = [names_in(form) | {"count"} for form in forms(message)]
        tags = Counter(re.findall(r"<[^>]*>", forms(message)[-1]))
        for form in forms(words):
            # A form for one thing need not name the number; click has other values in its form for one.
            if names_in(form) | {"count"} not in values or Counter(re.findall(r"<[^>]*>", form)) != tags:
                wrong.append((message, form))
            if '"' in re.sub(r"<[^>]*>", "", form):
                wrong.append((message, form))
    assert wrong == []


def test_translations_begin_and_end_as_their_sentences_do(said: dict[Message, Said]) -> None:
    """Space around a sentence, and the mark at its end, are part of it."""
    wrong = []
    for message, words in said.items():
        for form in forms(words):
            whole = forms(message)[-1]
            ends = [(text[:1].isspace(), text[-1:] if text[-1:] in " .:?!" else "") for text in (whole, form)]
            if ends[0] != ends[1]:
                wrong.append((message, form))
    assert wrong == []


def test_the_scripts_say_what_is_translated_for_them() -> None:
    """Each sentence of `static/` that is translated is handed to the page, no other is; none is said bare."""
    static = catalogues.COMPANION / "pages" / "static"
    scripts = "".join(path.read_text(encoding="utf-8") for path in static.glob("*.js"))
    called = re.findall(r"translated\(((?:[^()\"]|\"[^\"]*\")*)\)", scripts)
    said = {sentence for call in called for sentence in re.findall(r"\"([^\"]*)\"", call)}
    assert said == set(SCRIPT_WORDS)
    assert re.findall(r"\b(?:say|tell|amiss)\((?:\"\w+\", )?[\"`][^\"`]* [^\"`]*[\"`]", scripts) == []


def test_no_translation_is_too_long_for_its_place(said: dict[Message, Said]) -> None:
    """By the width of the English sentence; on buttons by less."""
    templates = (catalogues.COMPANION / "pages" / "templates").rglob("*.html")
    on_buttons = {words for path in templates for words in BUTTON.findall(path.read_text(encoding="utf-8"))}
    too_long = []
    for message, words in said.items():
        english = max(map(width, forms(message)))
        factor = next((factor for most, factor in LIMITS if english <= most), 1.4)
        if message in on_buttons:
            factor = min(factor, ON_BUTTONS)
        if max(map(width, forms(words))) > max(LEAST, factor * english):
            too_long.append((message, words))
    assert too_long == []


def test_the_settings_name_the_languages_that_there_are() -> None:
    """So that no language can be chosen that the program does not speak."""
    assert set(get_args(Code)) - {""} == set(LANGUAGES)
