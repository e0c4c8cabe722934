"""The language of the program's own words in the settings."""

import pytest

from companion.errors import CompanionError
from companion.settings.settings import parse_settings

PLAN = '[[plans]]\nname = "garden lesson"\nphases = [{ name = "arrival", minutes = 3 }]\n'


def test_pages_and_note_may_speak_different_languages() -> None:
    """Neither needs to be named."""
    words = parse_settings(f'{PLAN}[words]\nlanguage = "es"\nnote_language = "ko"\n', "a file").words
    assert (words.language, words.note_language) == ("es", "ko")
    words = parse_settings(PLAN, "a file").words
    assert (words.language, words.note_language) == ("", "")


def test_a_language_that_the_program_does_not_speak_is_refused() -> None:
    """With the key and those that there are."""
    with pytest.raises(CompanionError, match=r"words\.language.*'es'"):
        parse_settings(f'{PLAN}[words]\nlanguage = "klingon"\n', "a file")
