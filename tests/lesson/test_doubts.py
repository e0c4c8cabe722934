"""What the review looks at first."""

import pytest

from companion.lesson import event as ev
from companion.lesson.command import Action, Command
from companion.lesson.doubts import (
    BOUNDARY_MS,
    CERTAIN,
    DOUBLED_MS,
    WAKING_MS,
    Doubt,
    doubtful_at_first,
    doubts_of,
    other_readings,
    review_list,
)
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
    assert not review_list(told(began("arrival", 0), praise(30_000, CERTAIN))).doubtful


def test_two_marks_of_one_kind_within_three_seconds_may_be_one() -> None:
    """Both are shown; two of different kinds are not."""
    session = told(began("arrival", 0), praise(30_000), praise(32_000), reminder(33_000))
    assert [doubtful.doubts for doubtful in review_list(session).doubtful] == [(Doubt.DOUBLED,)] * 2
    for apart_ms, doubtful in ((DOUBLED_MS, True), (DOUBLED_MS + 1, False)):
        session = told(began("arrival", 0), praise(30_000), praise(30_000 + apart_ms))
        assert bool(review_list(session).doubtful) is doubtful
    table = told(began("arrival", 0), praise(30_000), praise(31_000, scope="table one"))
    assert not review_list(table).doubtful


def test_what_was_doubtful_at_first_stays_so_whatever_the_review_did() -> None:
    """But for a mark whose twin was undone in the lesson itself."""
    start = (began("arrival", 0), praise(1_000), began("work time", 60_000))

    def doubtful(*bodies: ev.Body, number: int = 1) -> bool:
        session = told(*start, *bodies)
        return doubtful_at_first(session, session.marks[number])

    assert doubtful(praise(99_000, 0.5))
    assert not doubtful(praise(99_000, CERTAIN))
    assert doubtful(praise(60_000), ev.MarkChanged("m5", phase="arrival"))
    assert doubtful(praise(99_000), praise(99_500), ev.MarkDropped("m6"))
    undone = ev.LastTakenBack((6,), 99_900, Source.KEY)
    assert not doubtful(praise(99_000), praise(99_500), undone)
    assert not doubtful(praise(99_000), reminder(99_500))


def test_the_readings_of_a_mark_begin_with_its_own() -> None:
    """Just after a phase change the phase before is one of them."""
    session = told(began("arrival", 0), began("work time", 60_000), reminder(61_000), praise(99_000))
    assert other_readings(session, session.marks[0]) == (
        (Kind.REMINDER, "work time"),
        (Kind.REMINDER, "arrival"),
        (Kind.PRAISE, "work time"),
        (Kind.PRAISE, "arrival"),
    )
    assert other_readings(session, session.marks[1]) == (
        (Kind.PRAISE, "work time"),
        (Kind.REMINDER, "work time"),
    )


def test_phases_without_marks_and_open_near_misses_are_named() -> None:
    """A near miss of any phrase is one, the most certain first."""
    heard = ev.NearMissHeard("praise", 5_000, 0.4, Command(Action.PRAISE))
    phase = ev.NearMissHeard("cleanup", 6_000, 0.6, Command(Action.PHASE, phase="cleanup"))
    shown = review_list(told(began("arrival", 0), heard, phase, began("work time", 60_000), praise(99_000)))
    assert shown.phases_without_marks == ("arrival",)
    assert [miss.phrase for miss in shown.near_misses] == ["cleanup", "praise"]
    answered = told(began("arrival", 0), heard, phase, ev.NearMissDismissed("c3"))
    assert [miss.phrase for miss in review_list(answered).near_misses] == ["cleanup"]


def test_what_was_looked_at_or_taken_back_is_listed_by_itself() -> None:
    """A mark is in one list only."""
    marks = (praise(1_000), praise(30_000), praise(50_000), praise(70_000))
    undone = ev.LastTakenBack((6,), 80_000, Source.KEY)
    shown = review_list(told(began("arrival", 0), *marks, undone, ev.MarkKept("m3"), ev.MarkDropped("m4")))
    assert [mark.id for mark in shown.reviewed] == ["m3", "m4", "m6"]
    assert [mark.id for mark in shown.clear] == ["m5"]
    assert not shown.doubtful


def test_a_key_that_is_told_of_when_the_computer_wakes_has_no_sure_time() -> None:
    """It may have gone down long before; what was heard, or pressed later, has its own."""
    woke = (ev.HearingLost(60_000, STOOD_STILL), ev.HearingRegained(120_000))
    key = ev.MarkMade(Kind.PRAISE, 120_300, Source.KEY)
    later = ev.MarkMade(Kind.PRAISE, 180_000, Source.KEY)
    session = told(began("arrival", 0), *woke, key, praise(120_400), later)
    doubtful = {mark.id for mark in session.marks if Doubt.LATE in doubts_of(session, mark)}
    assert doubtful == {"m5"}
    for at_ms, late in {
        59_999: False,
        60_000: True,
        120_000 + WAKING_MS: True,
        120_001 + WAKING_MS: False,
    }.items():
        session = told(began("arrival", 0), *woke, ev.MarkMade(Kind.PRAISE, at_ms, Source.KEY))
        assert (Doubt.LATE in doubts_of(session, session.marks[0])) is late
    lost = (ev.HearingLost(60_000, "unplugged"), ev.HearingRegained(120_000))
    session = told(began("arrival", 0), *lost, ev.MarkMade(Kind.PRAISE, 120_300, Source.KEY))
    assert not doubts_of(session, session.marks[0])
    still = told(began("arrival", 0), woke[0], ev.MarkMade(Kind.PRAISE, 120_300, Source.KEY))
    assert not doubts_of(still, still.marks[0])
