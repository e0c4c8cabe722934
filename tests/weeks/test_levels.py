"""Another table of levels on lessons of the past."""

from companion.lesson.recognition import Level
from companion.log.weeks import MarginCount
from companion.weeks.levels import Tried, tried

NOW = (Level("Harvest table", 5), Level("Turned soil", 0))


def test_both_tables_stand_side_by_side() -> None:
    """Each level of either table with the lessons that earn it; none of it where no mark was made."""
    then = (Level("Harvest table", 8), Level("Green row", 3), Level("Turned soil", 0))
    margins = [
        MarginCount(9, 1),
        MarginCount(5, 1),
        MarginCount(4, 1),
        MarginCount(-2, 2),
        MarginCount(None, 3),
    ]
    assert tried(NOW, then, margins) == (
        Tried("Harvest table", 2, 1),
        Tried("Green row", 0, 2),
        Tried("Turned soil", 1, 0),
        Tried("", 5, 5),
    )


def test_the_same_table_changes_nothing() -> None:
    """Both columns are alike."""
    assert all(one.now == one.then for one in tried(NOW, NOW, [MarginCount(5, 1), MarginCount(-2, 1)]))
