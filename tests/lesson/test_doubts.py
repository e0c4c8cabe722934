"""What the review looks at first."""

import pytest

from companion.lesson import event as ev
from companion.lesson.command import Action, Command
from companion.lesson.doubts import BOUNDARY_MS, Doubt, doubts_of, review_list
from companion.lesson.mark import Kind, Source
from companion.lesson.span import STOOD_STILL
from tests.lesson.builders import began, praise, reminder, told


@pytest.mark.parametrize(("late_ms", "flagged"), [(0, True), (BOUNDARY_MS, True), (BOUNDARY_MS + 1, False)])
def test_a_mark_just_after_a_phase_change_is_kept_but_flagged(late_ms: int, flagged: bool) -> None:
    """Within 20 s the review offers the earlier phase; the mark stays in its own until it is taken."""
    session = told(began("arrival", 0), began("work time", 60_000), praise(60_000 + late_ms))
    shown = review_list(session)
    assert session.marks[0].phase == "work time"
    assert [doubtful.earlier_phase for doubtful in shown.doubtful] == (["arrival"] if flagged else [])


def test_the_first_phase_has_no_earlier_one_to_offer() -> None:
    """A mark right at the beginning is not doubtful for that."""
    assert not review_list(told(began("arrival", 0), praise(1_000))).doubtful


def test_a_mark_that_was_moved_is_not_flagged_again() -> None:
    """Taking the earlier phase answers the question."""
    session = told(
        began("arrival", 0), began("work time", 60_000), praise(61_000), ev.MarkChanged("m4", phase="arrival")
    )
    assert not review_list(session).doubtful


def test_the_least_certain_mark_comes_first() -> None:
    """Marks by key have nothing to doubt and come last."""
    session = told(began("arrival", 0), praise(30_000, 0.99), reminder(50_000, 0.5), praise(70_000, 0.7))
    shown = review_list(session)
    assert [doubtful.mark.confidence for doubtful in shown.doubtful] == [0.5, 0.7]
    assert [mark.confidence for mark in shown.clear] == [0.99]


def test_two_marks_of_one_kind_within_three_seconds_may_be_one() -> None:
    """Both are shown; two of different kinds are not."""
    session = told(began("arrival", 0), praise(30_000), praise(32_000), reminder(33_000))
    assert [doubtful.doubts for doubtful in review_list(session).doubtful] == [(Doubt.DOUBLED,)] * 2


def test_phases_without_marks_and_open_near_misses_are_named() -> None:
    """A near miss of any phrase is one, the most certain first."""
    heard = ev.NearMissHeard("praise", 5_000, 0.4, Command(Action.PRAISE))
    phase = ev.NearMissHeard("cleanup", 6_000, 0.6, Command(Action.PHASE, phase="cleanup"))
    shown = review_list(told(began("arrival", 0), heard, phase, began("work time", 60_000), praise(99_000)))
    assert shown.phases_without_marks == ("arrival",)
    assert [miss.phrase for miss in shown.near_misses] == ["cleanup", "praise"]


def test_a_key_that_is_told_of_when_the_computer_wakes_has_no_sure_time() -> None:
    """It may have gone down long before; what was heard, or pressed later, has its own."""
    woke = (ev.HearingLost(60_000, STOOD_STILL), ev.HearingRegained(120_000))
    key = ev.MarkMade(Kind.PRAISE, 120_300, Source.KEY)
    later = ev.MarkMade(Kind.PRAISE, 180_000, Source.KEY)
    session = told(began("arrival", 0), *woke, key, praise(120_400), later)
    doubtful = {mark.id for mark in session.marks if Doubt.LATE in doubts_of(session, mark)}
    assert doubtful == {"m5"}
