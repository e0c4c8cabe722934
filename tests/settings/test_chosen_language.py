"""In which language a home speaks is read before all other settings."""

from pathlib import Path

import pytest

from companion.settings.chosen_language import ChosenLanguage, chosen_language


@pytest.mark.parametrize(
    ("text", "chosen"),
    [
        ('[words]\nlanguage = "es"\n', ChosenLanguage("es", "es")),
        ('words = { language = "es", note_language = "ko" }\n', ChosenLanguage("es", "ko")),
        ('words.note_language = "ko"\n', ChosenLanguage("", "ko")),
        ('[school]\nname = "words"\n', ChosenLanguage()),
        ('[words]\nlanguage = "tlh"\nnote_language = 3\n', ChosenLanguage()),
        ('words = "es"\n', ChosenLanguage()),
        ('[words]\nlanguage = "es\n', ChosenLanguage()),
        ("", ChosenLanguage()),
    ],
)
def test_the_languages_are_those_of_the_file(tmp_path: Path, text: str, chosen: ChosenLanguage) -> None:
    """The note's is that of the pages unless it has its own; what can't be read asks for none."""
    path = tmp_path / "companion.toml"
    path.write_text(text, encoding="utf-8-sig")
    assert chosen_language(path) == chosen


def test_no_file_asks_for_no_language(tmp_path: Path) -> None:
    """English it is."""
    assert chosen_language(tmp_path / "companion.toml") == ChosenLanguage("", "en")
