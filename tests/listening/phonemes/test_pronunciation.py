"""How words are said."""

import pytest

from companion.errors import CompanionError
from companion.listening.phonemes.pronunciation import from_dictionary, phonemes, pronunciations, words


def test_dictionary_words_are_said_as_the_dictionary_says() -> None:
    """A word of the recogniser's own dictionary comes with all its forms, the usual one first."""
    assert pronunciations("velvet") == (("V", "EH", "L", "V", "AH", "T"),)
    assert len(pronunciations("record")) > 1
    assert phonemes("Stop signal!") == ("S", "T", "AA", "P", "S", "IH", "G", "N", "AH", "L")


def test_a_compound_is_said_as_its_parts() -> None:
    """A word made of two known words needs no guess."""
    assert from_dictionary("snowboy") == ()
    assert pronunciations("snowboy") == (("S", "N", "OW", "B", "OY"),)


def test_an_unknown_word_is_said_by_its_letters() -> None:
    """A word that no dictionary has gets a pronunciation in the recogniser's own phonemes."""
    (said,) = pronunciations("zorbit")
    assert said[0] == "Z"
    assert said[-1] == "T"
    assert "B" in said


@pytest.mark.parametrize("word", ["日本", "çž"])
def test_a_word_that_nobody_can_say_is_named(word: str) -> None:
    """Where no pronunciation is to be had, the error names the word."""
    with pytest.raises(CompanionError, match=word):
        pronunciations(word)


def test_a_phrase_without_words_is_refused() -> None:
    """Punctuation alone is no phrase."""
    with pytest.raises(CompanionError, match="holds no words"):
        phonemes(" – ! ")


def test_names_of_class_groups_become_words() -> None:
    """Hyphens, capitals, digits and typographer's apostrophes are read as a teacher says them."""
    assert words("4-Hazel") == ("four", "hazel")
    assert words("set-up, don’t!") == ("set", "up", "don't")
