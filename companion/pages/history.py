"""History of one class group or of all: recognitions, phases, ratio, routines to teach again."""

from datetime import timedelta

from starlette.requests import Request
from starlette.responses import Response

from companion.lesson.trends import RoutineCount, TeachAgain, ratio_words, teach_again
from companion.log.history import ALL_TIME, by_phase, earned, recent_routines
from companion.pages.charts import phases_chart, recognitions_chart, recognitions_of, share_chart, spans_of
from companion.pages.desk import desk_of

WEEKS = {"12": "12 weeks", "40": "a school year", "": "all time"}
"""What can be looked at: value in the address and words."""
MONTHLY_FROM = 26
"""More weeks than this are drawn by month."""
MOST_PHASES = 12
NEWEST = 20


def show(request: Request) -> Response:
    """Show the history that the address asks for."""
    desk = desk_of(request)
    class_group = request.query_params.get("class_group") or None
    asked = request.query_params.get("weeks", "12")
    weeks = asked if asked in WEEKS else "12"
    since = ALL_TIME
    if weeks:
        since = (desk.clock() - timedelta(weeks=int(weeks))).date().isoformat()
    monthly = not weeks or int(weeks) > MONTHLY_FROM
    with desk.log() as log:
        rows = earned(log, class_group, since=since, monthly=monthly)
        phases = by_phase(log, class_group, since=since)[:MOST_PHASES]
        routines = recent_routines(log, class_group)
        groups = log.class_groups()
        newest = log.summaries(class_group, most=NEWEST) if class_group else []
    spans, recognitions = spans_of(rows, monthly=monthly), recognitions_of(rows)
    return desk.page(
        "history.html",
        class_group=class_group,
        groups=groups,
        weeks=weeks,
        choices=WEEKS,
        unit="Month" if monthly else "Week from",
        spans=spans,
        recognitions=recognitions,
        phases=phases,
        ratio=ratio_words(sum(row.praise for row in rows), sum(row.reminder for row in rows)),
        again=[(group, found) for group, counts in routines.items() for found in _again(counts)],
        newest=newest,
        recognitions_chart=recognitions_chart(spans, recognitions),
        share_chart=share_chart(spans),
        phases_chart=phases_chart(phases),
    )


def _again(counts: list[RoutineCount]) -> tuple[TeachAgain, ...]:
    return teach_again(list(dict.fromkeys(count.lesson for count in counts)), counts)
