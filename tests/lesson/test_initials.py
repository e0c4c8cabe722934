"""What in a sentence may be a child's code."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.lesson.initials import codes_in


@pytest.mark.parametrize(
    ("text", "codes"),
    [
        ("Ask K. T. and B.L. first.", ("K. T.", "B.L.")),
        ("KT and ABC share the spade", ("KT", "ABC")),
        ("Seat 12 waits, and seat 3.", ("Seat 12", "seat 3")),
        ("k. t. was cold", ("k. t.",)),
        ("Ü. Ö. hilft", ("Ü. Ö.",)),
        ("Line up quietly at 9 a.m., OK? PE is next, e.g. on TV.", ()),
        ("Tools back in the shed. A good day. I saw it. We did so.", ()),
        ("Take plan B. It is good.", ()),
        ("줄을 조용히 서요.", ()),
        ("", ()),
    ],
)
def test_codes_are_found_and_common_words_are_not(text: str, codes: tuple[str, ...]) -> None:
    """Initials with and without dots, seats; abbreviations and ends of sentences are none."""
    assert codes_in(text) == codes


def test_a_known_child_is_found_however_it_is_written_down() -> None:
    """Codes of the lesson's own notes."""
    assert codes_in("Ask 은지 and table four.", ["은지", "J. K."]) == ("은지",)


@given(st.text(max_size=200), st.lists(st.text(max_size=4), max_size=3))
def test_any_text_is_taken(text: str, known: list[str]) -> None:
    """No text is an error, and what is found stands in it."""
    assert all(code in text for code in codes_in(text, known))
