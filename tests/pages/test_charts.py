"""Charts of history as SVG."""

from datetime import date, timedelta

import pytest

from companion.log.weeks import Earned, Unit
from companion.pages.bars import LETTER, WIDTH
from companion.pages.charts import share_chart, spans_of
from companion.pages.span_choice import span_choice


@pytest.mark.parametrize(
    ("weeks", "unit", "label"),
    [(26, Unit.WEEK, "7 Sep"), (30, Unit.MONTH, "Sep 2026"), (260, Unit.HALF_YEAR, "Jul–Dec 2026")],
)
def test_a_longer_span_is_told_by_longer_stretches(weeks: int, unit: Unit, label: str) -> None:
    """All of it is seen at once, whatever was asked for: what counts is the first lesson that there is."""
    today = date(2026, 11, 28)
    assert span_choice({"weeks": ""}, (), today).unit(today - timedelta(weeks=weeks)) is unit
    assert span_choice({"weeks": ""}, (), today).unit(None) is Unit.WEEK
    begins = {Unit.WEEK: "2026-09-07", Unit.MONTH: "2026-09-01", Unit.HALF_YEAR: "2026-07-01"}[unit]
    (span,) = spans_of([Earned(begins, "", 1, 2, 0)], unit)
    assert span.label == label


@pytest.mark.parametrize("years", [3, 5, 9])
def test_labels_of_many_spans_do_not_run_into_each_other(years: int) -> None:
    """Where there is no room for all, every second one or fewer are written."""
    halves = [f"{2017 + at // 2}-{'01' if at % 2 else '07'}-01" for at in range(2 * years)]
    chart = share_chart(spans_of([Earned(begins, "", 1, 2, 0) for begins in halves], Unit.HALF_YEAR))
    assert len(chart.written) * LETTER * len("Jul–Dec 2026") <= WIDTH
    assert len(chart.written) >= 5
