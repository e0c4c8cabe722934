"""What weeks of lessons say."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.lesson.chance import share
from companion.lesson.trends import RoutineCount, ratio_words, teach_again


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


def lessons(*reminders: int, praise: int = 0) -> list[RoutineCount]:
    """Return lessons, newest first, with so many reminders each for one routine."""
    return [RoutineCount(f"s{i}", "cleanup", "rinse", praise, n) for i, n in enumerate(reminders)]


def names(counts: list[RoutineCount]) -> list[str]:
    """Return the ids of the lessons."""
    return [count.lesson for count in counts]


def test_a_routine_that_needs_reminders_again_and_again_is_named_with_its_reason() -> None:
    """The sentence says which, where, in how many lessons, and how sure that is."""
    counts = lessons(1, 2, 0, 1, 0, 0)
    (again,) = teach_again(names(counts), counts)
    assert again.reason == (
        "Teach “rinse” in cleanup again: 3 of the last 6 lessons needed a reminder for it "
        "(4 reminders, 0 praise; likely 2 to 8 in 10 lessons)."
    )


@pytest.mark.parametrize(
    "counts",
    [lessons(9, 0, 0, 0), lessons(1, 1), lessons(1, 1, 1, 1, praise=1), lessons(0, 0, 0, 0, 0, 0, 1, 1, 1)],
    ids=["one bad day", "too few lessons", "as much praise", "long ago"],
)
def test_chance_and_the_past_are_not_called_a_need(counts: list[RoutineCount]) -> None:
    """One bad day, two lessons, a routine that is praised as often, and old lessons name nothing."""
    assert teach_again(names(counts), counts) == ()


def test_the_neediest_routine_comes_first() -> None:
    """More lessons with a reminder weigh more than more reminders."""
    line = [RoutineCount(f"s{i}", "line-up", "", 0, 9 if i < 3 else 0) for i in range(6)]
    counts = [*line, *lessons(1, 1, 1, 1, 1, 0)]
    found = teach_again([f"s{i}" for i in range(6)], counts)
    assert [again.phase for again in found] == ["cleanup", "line-up"]
    assert found[1].reason.startswith("Teach line-up again")
