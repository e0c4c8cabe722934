"""How a second hearing is turned into a probability."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.listening.vosk.opinion import Opinion, likeness, probability

SURE = Opinion(ratio=0.0, margin=6.0, likeness=1.0, posterior=1.0, free_text="")
TEXT = st.text(alphabet="ab 가각힣", max_size=8)


def test_same_words_are_wholly_alike() -> None:
    """Spaces make no difference, and nothing in common is no likeness."""
    assert likeness("우리 반 정원", "우리반 정원") == 1.0
    assert likeness("abc", "xyz") == 0.0


def test_hangul_is_compared_by_its_parts() -> None:
    """Two syllables that differ in one sound are more alike than two that share none."""
    assert likeness("강", "간") > likeness("강", "토")


@given(one=TEXT, other=TEXT)
def test_likeness_has_no_direction(one: str, other: str) -> None:
    """Likeness lies between 0 and 1 and is the same both ways."""
    assert likeness(one, other) == likeness(other, one)
    assert 0.0 <= likeness(one, other) <= 1.0


def test_grammar_alone_is_not_enough() -> None:
    """A posterior of 1 with free speech far ahead and other words heard is not believed."""
    assert probability(replace(SURE, ratio=-30.0, margin=-3.0, likeness=0.1)) < 0.5
    assert probability(SURE) > 0.9


@pytest.mark.parametrize("field", ["ratio", "margin", "likeness", "posterior"])
def test_every_finding_counts(field: str) -> None:
    """Each finding, made worse alone, makes the probability smaller."""
    assert probability(replace(SURE, **{field: getattr(SURE, field) - 0.9})) < probability(SURE)
