"""Shares and rates with their intervals."""

import pytest

from companion.lesson.chance import rate_interval, share


def test_a_share_has_the_score_interval() -> None:
    """Newcombe's example (Statistics in Medicine 1998): 81 of 263 is 0.2553 to 0.3662."""
    found = share(81, 263)
    assert found.value == pytest.approx(81 / 263)
    assert (found.low, found.high) == pytest.approx((0.2553, 0.3662), abs=1e-4)


def test_nothing_of_nothing_may_be_any_share() -> None:
    """And all or none of something lies at the end of its interval."""
    assert (share(0, 0).value, share(0, 0).low, share(0, 0).high) == (0.0, 0.0, 1.0)
    assert share(0, 5).low == 0.0
    assert share(5, 5).high == 1.0


@pytest.mark.parametrize(("count", "total"), [(-1, 3), (4, 3)])
def test_more_than_all_is_no_share(count: int, total: int) -> None:
    """A figure that can't be is an error, not a share."""
    with pytest.raises(ValueError, match="is no share"):
        share(count, total)


@pytest.mark.parametrize(
    ("count", "low", "high"),
    [
        (0, 0.0, 3.6889),
        (1, 0.0253, 5.5716),
        (5, 1.6235, 11.6683),
        (10, 4.7954, 18.3904),
        (100, 81.364, 121.627),
    ],
)
def test_a_rate_has_the_exact_interval(count: int, low: float, high: float) -> None:
    """By the tables of Garwood and others after him; two hours halve it."""
    assert rate_interval(count, 2.0) == pytest.approx((low / 2, high / 2), abs=2e-4, rel=1e-5)
