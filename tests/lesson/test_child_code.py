"""What may stand for a child."""

import pytest

from companion.lesson.child_code import MOST_LETTERS, is_child_code


@pytest.mark.parametrize("code", ["K. T.", "kt", "K", "JKLM", "J-K", "seat 12", "12", "B 4", "seat 1234567"])
def test_initials_and_seats_are_codes(code: str) -> None:
    """Two letters however they are written, up to four capitals, a number with at most one word."""
    assert is_child_code(code)


@pytest.mark.parametrize(
    "text",
    [
        "Kim",
        "kim",
        "JKLMN",
        "the tall one",
        "Kim Ash 4",
        "",
        "...",
        "K+T",
        "seat 12345678",
        "seat one",
        "K.T.?",
    ],
)
def test_names_and_sentences_are_none(text: str) -> None:
    """Nor is anything as long as a name with a number behind it."""
    assert len("seat 1234567") == MOST_LETTERS
    assert not is_child_code(text)
