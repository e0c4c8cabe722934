"""The teacher's own table of levels."""

from hypothesis import given
from hypothesis import strategies as st

from companion.lesson.recognition import Level, level_for, next_level

TABLES = st.lists(st.integers(-20, 20), unique=True).map(lambda ns: [Level(f"level {n}", n) for n in ns])


@given(TABLES, st.integers(-30, 30))
def test_the_level_is_the_highest_one_reached_and_the_next_the_lowest_one_not_reached(
    levels: list[Level], margin: int
) -> None:
    """In any order of the table, with any number of levels, none included."""
    reached = [level.least_margin for level in levels if level.least_margin <= margin]
    ahead = [level.least_margin for level in levels if level.least_margin > margin]
    level, following = level_for(levels, margin), next_level(levels, margin)
    assert (level.least_margin if level else None) == max(reached, default=None)
    assert (following.least_margin if following else None) == min(ahead, default=None)
