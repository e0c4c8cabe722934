"""Another table of levels on sessions of the past."""

from companion.lesson.recognition import Level
from companion.weeks.levels import Tried, tried

NOW = (Level("Harvest table", 5), Level("Turned soil", 0))


def test_both_tables_stand_side_by_side() -> None:
    """Each level of either table with the sessions that earn it; none of it where no mark was made."""
    then = (Level("Harvest table", 8), Level("Green row", 3), Level("Turned soil", 0))
    marks = [(9, 0), (6, 1), (4, 0), (1, 3), (0, 0)]
    assert tried(NOW, then, marks) == (
        Tried("Harvest table", 2, 1),
        Tried("Green row", 0, 2),
        Tried("Turned soil", 1, 0),
        Tried("", 2, 2),
    )


def test_the_same_table_changes_nothing() -> None:
    """Both columns are alike."""
    assert all(one.now == one.then for one in tried(NOW, NOW, [(5, 0), (0, 2)]))
