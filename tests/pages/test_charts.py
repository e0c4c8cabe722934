"""Charts of history as SVG."""

from companion.lesson.chance import share
from companion.log.weeks import Earned, Unit
from companion.pages.history import _drawn
from companion.weeks.coverage import Coverage

WEEK = Earned("2026-09-07", "Full basket", 2, 9, 3)
PHASES = (Coverage("cleanup", share(2, 3), 4, 1, share(1, 4)),)


def test_what_is_remembered_of_a_chart_is_what_would_be_drawn() -> None:
    """No name or number in it changes from drawing to drawing; another week draws another chart."""
    remembered = _drawn((WEEK,), PHASES, Unit.WEEK)
    assert remembered is _drawn((WEEK,), PHASES, Unit.WEEK)
    assert remembered == _drawn.__wrapped__((WEEK,), PHASES, Unit.WEEK)
    later = _drawn((WEEK, Earned("2026-09-14", "", 1, 2, 3)), PHASES, Unit.WEEK)
    assert later["praise"] != remembered["praise"]
    assert later["phases"] == remembered["phases"]
