"""How often words are said in ordinary talk."""

import pytest

from companion.listening.rehearsal.talk import WORDS_AN_HOUR, hours_apart


def test_usual_words_come_up_more_often() -> None:
    """What is said every hour, what every week, and what never."""
    assert hours_apart("next") < hours_apart("next phase") < hours_apart("velvet compass")


def test_words_that_hang_together_come_up_more_often_than_each_by_chance() -> None:
    """A usual greeting is heard every day, though its words apart are rarer."""
    apart = hours_apart("good") * hours_apart("morning") * WORDS_AN_HOUR
    assert hours_apart("good morning") < apart / 10
    assert hours_apart("morning good") == pytest.approx(apart)


def test_a_word_that_was_never_counted_is_rarer_than_any_that_was() -> None:
    """An invented word is a good cue."""
    assert hours_apart("zorbit") > hours_apart("aachen")
