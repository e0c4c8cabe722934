"""Counts and moments in words."""

import pytest

from companion.lesson.counting import count_words, how_many, minute, signed


@pytest.mark.parametrize(
    ("at_ms", "said"),
    [(0, "0:00"), (59_999, "0:59"), (60_000, "1:00"), (725_000, "12:05"), (5_999_999, "99:59")],
)
def test_a_moment_is_told_in_minutes_and_seconds(at_ms: int, said: str) -> None:
    """A second that is not over does not count."""
    assert minute(at_ms) == said


def test_counts_have_their_nouns_and_margins_their_signs() -> None:
    """One is one, and none is many."""
    assert [how_many(count, "mark") for count in (0, 1, 2)] == ["0 marks", "1 mark", "2 marks"]
    assert how_many(2, "child", "children") == "2 children"
    assert [signed(number) for number in (-2, 0, 3)] == ["-2", "0", "+3"]
    assert count_words(1, 3) == "1 praise, 3 reminders, margin -2"
