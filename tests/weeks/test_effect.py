"""Whether teaching again helped."""

import pytest

from companion.bench.weeks import effects
from companion.weeks.effect import Turn, effect
from companion.weeks.rates import Rate

HALF = Rate((10, 10))


@pytest.mark.parametrize(
    ("needy", "lessons", "change"),
    [
        (0, 2, Turn.TOO_EARLY),
        (0, 6, Turn.HELPED),
        (3, 6, Turn.NO_CHANGE),
        (6, 6, Turn.WORSE),
        (2, 6, Turn.NO_CHANGE),
    ],
)
def test_the_lessons_afterwards_are_compared_with_what_was_to_be_expected(
    needy: int, lessons: int, change: Turn
) -> None:
    """Where every second lesson needed it, none of six is a help, two of six is chance."""
    assert effect(HALF, needy, lessons).change is change


def test_the_sentence_gives_what_was_to_be_expected_anyway() -> None:
    """A teacher sees both numbers, and how often chance alone does it."""
    assert effect(HALF, 0, 6).sentence == (
        "0 of the next 6 lessons needed a reminder for it; 3.0 were to be expected anyway. So it helped"
        " (by chance in 3 %)."
    )
    assert effect(HALF, 3, 6).sentence.endswith("So no change that could be told from chance.")
    assert effect(HALF, 1, 1).sentence == "1 of 3 lessons since then: too early to say."


def test_help_is_seldom_seen_where_nothing_changed() -> None:
    """At most in a tenth of the cases, though they were chosen for being bad; the naive way in far more."""
    said = effects(3, 4, "bad classes", factor=1.0)
    assert said["cases"] > 40
    assert said["helped"] <= 0.1 * said["cases"] < said["naive"]


def test_help_is_seen_where_there_was_some() -> None:
    """A rate that falls to a third is noticed in a good part of the cases."""
    said = effects(3, 4, "bad classes", factor=0.3)
    assert said["helped"] > 0.25 * said["cases"]
