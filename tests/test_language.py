"""The program's own words: translated, counted, and English where nothing else is asked for."""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor

import pytest

from companion.language import LANGUAGES, _, decimal, language, later, many, speak, speaking, spoken, word
from companion.pages.template_words import tagged


@pytest.fixture(autouse=True)
def _english_again() -> Iterator[None]:
    yield
    speak("en")


def test_english_is_spoken_unless_something_else_is_asked_for() -> None:
    """And a sentence that no catalogue has stays as it is."""
    assert (spoken(), _("Today")) == ("en", "Today")
    with speaking("es"):
        assert (_("Today"), _("no such sentence"), _("")) == ("Hoy", "no such sentence", "")
    speak("ko")
    assert (spoken(), _("Today")) == ("ko", "오늘")


def test_one_page_can_speak_otherwise_than_the_program() -> None:
    """Within its own request or note, and nowhere else, also not in another thread."""
    with speaking("es"), ThreadPoolExecutor(1) as other:
        assert other.submit(spoken).result() == "en"
        with speaking("ko"):
            assert spoken() == "ko"
        assert spoken() == "es"
    assert spoken() == "en"


def test_a_word_for_several_things_is_said_as_of_the_thing() -> None:
    """A mark is kept in the review, a promise is kept to a family: that is one word in English only."""
    with speaking("es"):
        assert (word("mark", "kept"), word("promise", "kept")) == ("se queda", "cumplida")
    assert (word("mark", "kept"), word("nothing", "no such word")) == ("kept", "no such word")


def test_values_stand_in_their_braces_and_braces_without_values_stay() -> None:
    """A sentence is put together only where it has values."""
    assert _("Open {class_group} now", class_group="4-{Hazel}") == "Open 4-{Hazel} now"
    assert _("{not a value") == "{not a value"
    with speaking("es"):
        assert _("Undo: {step}", step="x") == "Deshacer: x"


@pytest.mark.parametrize(
    ("code", "one", "three"),
    [
        ("en", "1 thing to look at", "3 things to look at"),
        ("es", "1 cosa por mirar", "3 cosas por mirar"),
        ("ko", "볼 것 1개", "볼 것 3개"),
    ],
)
def test_counts_take_the_form_that_their_language_has(code: str, one: str, three: str) -> None:
    """One form or more."""
    with speaking(code):
        said = [many("{count} thing to look at", "{count} things to look at", count) for count in (1, 3)]
    assert said == [one, three]


def test_what_is_translated_later_is_kept_in_english() -> None:
    """So that a table of the program can be compared, stored and logged as ever."""
    with speaking("es"):
        kept = later("Today")
        assert (kept, _(kept)) == ("Today", "Hoy")


def test_decimals_are_written_as_the_language_writes_them() -> None:
    """A comma in Spanish."""
    assert decimal(1.25, 1) == "1.2"
    with speaking("es"):
        assert decimal(0.5, 2) == "0,50"


@pytest.mark.usefixtures("pseudo_language")
def test_a_value_stands_as_it_is_among_words_that_run_to_the_left() -> None:
    """Kept apart from them, or `4-Hazel` would be read as Hazel-4."""
    assert "\u20684-Hazel\u2069" in _("Open {class_group} now", class_group="4-Hazel")
    assert "\u2068a &lt; b\u2069" in tagged("<strong>{codes}</strong>", codes="a < b")


def test_every_language_has_its_name_and_a_direction() -> None:
    """In which HTML can say it."""
    for code, one in LANGUAGES.items():
        with speaking(code):
            assert language() is one
            assert one.name
            assert one.direction in ("ltr", "rtl")
