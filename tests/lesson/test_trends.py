"""What weeks of lessons say."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.lesson.chance import share
from companion.lesson.trends import ratio_words


def test_the_interval_agrees_with_the_published_example() -> None:
    """81 of 263 gives 0.2553 to 0.3662 (Newcombe 1998, table I, score method without correction)."""
    part = share(81, 263)
    assert (part.low, part.high) == pytest.approx((0.2553, 0.3662), abs=5e-5)


def test_nothing_of_nothing_says_nothing() -> None:
    """Without a mark every share is possible."""
    assert (share(0, 0).low, share(0, 0).high) == (0.0, 1.0)


def test_more_than_all_is_refused() -> None:
    """A count beyond its total is a mistake of the caller's."""
    with pytest.raises(ValueError, match="4 of 3"):
        share(4, 3)


@given(st.integers(1, 5_000).flatmap(lambda total: st.tuples(st.integers(0, total), st.just(total))))
def test_the_interval_holds_the_share_and_mirrors(counted: tuple[int, int]) -> None:
    """It lies within 0 to 1 around the share, and the share of the others is its mirror image."""
    count, total = counted
    part, others = share(count, total), share(total - count, total)
    assert 0 <= part.low <= part.value <= part.high <= 1
    assert part.low == pytest.approx(1 - others.high)
    assert share(10 * count, 10 * total).high - share(10 * count, 10 * total).low < part.high - part.low


@pytest.mark.parametrize(
    ("praise", "reminder", "expected"),
    [
        (0, 0, "No mark yet."),
        (12, 0, "12 praises and no reminder (likely at least 3.1 praises for each reminder)."),
        (30, 10, "3.0 praises for each reminder (likely 1.5 to 6.0)."),
    ],
)
def test_the_ratio_is_told_with_its_range(praise: int, reminder: int, expected: str) -> None:
    """A teacher sees how much the few marks of a week can say."""
    assert ratio_words(praise, reminder) == expected
