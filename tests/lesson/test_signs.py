"""Signs for characters that are obeyed and not seen."""

import pytest

from companion.lesson.signs import with_signs


@pytest.mark.parametrize(
    ("text", "seen"),
    [
        ("a\x1b[2J\x07", "a␛[2J␇"),
        ("\x7f\x9b\u202e\u2066\ufeff", "␡\\u009b\\u202e\\u2066\\ufeff"),
        ("line\n\ttab", "line\n\ttab"),
        ("א\u200fב 👩‍🌾 줄", "א\u200fב 👩‍🌾 줄"),
        ("נפתח: \u20684-Hazel\u2069", "נפתח: \u20684-Hazel\u2069"),
    ],
)
def test_what_is_obeyed_is_seen_and_letters_of_any_script_stay(text: str, seen: str) -> None:
    """Marks of direction and joined emoji are a part of how words are written."""
    assert with_signs(text) == seen
