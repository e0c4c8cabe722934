"""Moving on by the plan's clock."""

from dataclasses import replace

from companion.lesson import event as ev
from companion.lesson.fold import fold
from companion.lesson.plan import Advance, Phase, Plan
from companion.lesson.plan_clock import lesson_left_ms, phase_due, phase_left_ms
from companion.lesson.session import Session
from tests.lesson.builders import OPENED, began, events, told

BY_CLOCK = Plan(
    "short", (Phase("arrival", 1, advance=(Advance.CLOCK,)), Phase("work time", 2), Phase("line up", 1))
)


def _session(*bodies: ev.Body) -> Session:
    first, *rest = events(*bodies)
    return fold([replace(first, body=replace(OPENED, plan=BY_CLOCK)), *rest])


def test_a_phase_with_a_clock_ends_after_its_planned_minutes() -> None:
    """The next phase is dated to where the minutes were over, not to when that was noticed."""
    session = _session(began("arrival", 0))
    assert phase_due(session, 59_999) is None
    due = phase_due(session, 65_000)
    assert due is not None
    assert (due.phase, due.at_ms) == ("work time", 60_000)


def test_a_phase_without_a_clock_may_be_stretched() -> None:
    """The remaining minutes go below zero, and nothing moves on."""
    session = _session(began("arrival", 0), began("work time", 60_000))
    assert phase_due(session, 600_000) is None
    assert phase_left_ms(session, 600_000) == -420_000


def test_the_last_phase_is_followed_by_none() -> None:
    """The lesson's own minutes go on counting."""
    session = told(began("cleanup", 0))
    assert phase_due(session, 10**7) is None
    assert lesson_left_ms(session, 60_000) == 29 * 60_000
