"""Counting in how many lessons a routine needed a reminder."""

from companion.lesson.trends import LessonHeld, RoutineCount
from companion.weeks.cell import Cell, cells


def lesson(number: int, class_group: str = "4-Hazel", plan: str = "garden") -> LessonHeld:
    """Return a lesson a week."""
    return LessonHeld(f"{class_group} {number}", class_group, plan, f"2026-09-{number:02}")


def test_a_lesson_without_a_mark_for_a_routine_did_not_need_a_reminder() -> None:
    """Without such lessons only those that went wrong would be counted."""
    counts = [RoutineCount("4-Hazel 2", "cleanup", "rinse", 0, 2)]
    (cell,) = cells([lesson(1), lesson(2), lesson(3)], counts)
    assert cell == Cell("4-Hazel", "cleanup", "rinse", (False, True, False), 0, 2)
    assert (cell.count, cell.lessons, cell.what) == (1, 3, "“rinse” in cleanup")


def test_a_routine_that_another_class_was_marked_for_is_looked_at_in_each_class_of_the_plan() -> None:
    """A class that never needs it is part of what is usual; a class of another plan is not."""
    lessons = [lesson(1), lesson(1, "4-Rowan"), lesson(1, "2-Birch", plan="kitchen")]
    found = cells(lessons, [RoutineCount("4-Hazel 1", "cleanup", "", 1, 3)])
    assert [(cell.class_group, cell.needy) for cell in found] == [("4-Hazel", (True,)), ("4-Rowan", (False,))]
    assert found[0].what == "the routines of cleanup"


def test_as_much_praise_as_reminders_is_no_need() -> None:
    """A routine that was praised as often went well enough; lessons elsewhere count nothing."""
    counts = [RoutineCount("4-Hazel 1", "cleanup", "rinse", 2, 2), RoutineCount("gone", "cleanup", "x", 0, 9)]
    (cell,) = cells([lesson(1)], counts)
    assert cell.needy == (False,)
