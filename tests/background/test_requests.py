"""What the running companion says of names that were typed, and that nobody knows."""

from companion.background.requests import _no_routine, _unplanned
from tests.lesson.builders import told
from tests.school_day import settings


def test_a_class_group_that_is_not_on_the_timetable_is_told() -> None:
    """It is taken all the same; one that is like it is named, with the way to say so."""
    school = settings(timetable=True)
    assert _unplanned("4-Hazel", school) == ""
    assert _unplanned("4-Hazle", settings()) == "", "there is no timetable"
    assert _unplanned("4-Hazle", school) == (
        "4-Hazle is not on the timetable; taken as typed. Was 4-Hazel meant? Then say: companion name 4-Hazel"
    )
    assert _unplanned("parents", school) == "parents is not on the timetable; taken as typed."


def test_a_routine_that_is_not_in_the_plan_is_told() -> None:
    """It is taken all the same."""
    lesson = told()
    assert _no_routine("tools back", lesson) == ""
    assert _no_routine(None, lesson) == ""
    assert _no_routine("tool back", lesson) == (
        "“tool back” is no routine of the plan; taken as typed. Was “tools back” meant?"
    )
    assert _no_routine("humming", lesson) == "“humming” is no routine of the plan; taken as typed."
