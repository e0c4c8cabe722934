"""Phases that get judged, and those that don't."""

from companion.lesson.chance import share
from companion.log.weeks import PhaseLook
from companion.weeks.coverage import coverage


def look(phase: str, place: float, held: int, judged: int) -> PhaseLook:
    """Return a phase with three praises, two of which named a routine."""
    return PhaseLook(phase, place, held, judged, 3, 1, 2)


def test_phases_stand_in_the_order_of_the_lesson() -> None:
    """Each with the lessons in which it was judged, and the praise that named a routine."""
    arrival, line_up = coverage([look("line up", 5, 4, 4), look("arrival", 0, 10, 7)])
    assert (arrival.phase, line_up.phase) == ("arrival", "line up")
    assert arrival.judged == share(7, 10)
    assert arrival.named == share(2, 3)
    assert arrival.sentence == "arrival got a mark in 7 of 10 lessons."


def test_a_phase_judged_in_less_than_a_third_of_some_lessons_is_judged_rarely() -> None:
    """Three lessons show no habit."""
    assert [one.rarely for one in coverage([look("opening", 0, 6, 1)])] == [True]
    assert [one.rarely for one in coverage([look("opening", 0, 6, 2)])] == [False]
    assert [one.rarely for one in coverage([look("opening", 0, 3, 0)])] == [False]
