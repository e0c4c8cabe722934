"""Which lesson a class that was opened by hand stands in."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from companion.lesson.place import places
from companion.lesson.timetable import Lesson

EIGHT = datetime(2026, 9, 14, 8, 0, tzinfo=ZoneInfo("America/Chicago"))
DAY = [
    Lesson(EIGHT + timedelta(minutes=begins), EIGHT + timedelta(minutes=begins + 45), "", group, None, "")
    for begins, group in ((0, "4-Hazel"), (45, "2-Birch"), (94, "5-Oak"))
]


@pytest.mark.parametrize(
    ("class_group", "minutes", "expected"),
    [
        ("4-Hazel", -15, [0]),
        ("4-Hazel", -16, []),
        ("4-Hazel", 44, [0]),
        ("2-Birch", 31, [1]),
        ("1-Ash", 10, [0]),
        ("1-Ash", 31, [0]),
        ("1-Ash", 39, [0]),
        ("1-Ash", 40, [1, 0]),
        ("1-Ash", 92, [2]),
        ("1-Ash", 140, []),
    ],
)
def test_a_class_stands_where_it_was_opened(class_group: str, minutes: int, expected: list[int]) -> None:
    """Its own lesson; else the one that goes on, and only in that one's last five minutes the next."""
    assert places(DAY, class_group, EIGHT + timedelta(minutes=minutes)) == expected


def test_a_class_that_is_opened_again_stands_in_no_other_ones_place() -> None:
    """4-Hazel, closed by mistake and opened again at 8:35, is not taken for the class that comes next."""
    assert places(DAY, "4-Hazel", EIGHT + timedelta(minutes=35)) == [0]
