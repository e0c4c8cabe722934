"""History of one class group or of all: what to teach again, whether it helped, phases, recognitions."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from urllib.parse import parse_qsl, quote, urlencode

from resvg_py import svg_to_bytes
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from companion.errors import CompanionError
from companion.language import _, later
from companion.lesson.aftercare import RoutineTaughtAgain
from companion.lesson.chance import Share, share
from companion.lesson.class_group import grade_of
from companion.lesson.trends import ratio_words
from companion.log.store import SessionLog
from companion.log.weeks import Earned, GroupMarks, Unit, earned, first_day, group_marks, phase_looks
from companion.pages.bars import Bars
from companion.pages.charts import (
    chart_file,
    drawn,
    phases_chart,
    recognitions_chart,
    recognitions_of,
    share_chart,
    spans_of,
)
from companion.pages.desk import Desk, desk_of, text, then, wish_of
from companion.pages.span_choice import SpanChoice, span_choice
from companion.settings.settings import load_settings
from companion.weeks.coverage import Coverage, coverage

NEWEST = 20
CHARTS = {
    "praise": later("Praise among all marks, in percent"),
    "recognitions": later("Recognitions"),
    "phases": later("Praise and reminders by phase"),
}
"""The charts that can be kept as files, with their titles."""
UNITS = {Unit.WEEK: later("Week from"), Unit.MONTH: later("Month"), Unit.HALF_YEAR: later("Half-year")}
PNG_WIDTH = 1_600


@dataclass(frozen=True, slots=True)
class Beside:
    """A class group beside the others of its grade."""

    marks: GroupMarks
    praise: Share


def choice_of(request: Request) -> SpanChoice:
    """Return what the address asks for. Raises CompanionError if that can't be looked at."""
    desk = desk_of(request)
    periods = load_settings(desk.home.settings).school.grading_periods if desk.home.settings.exists() else ()
    return span_choice(request.query_params, periods, desk.clock().date())


def show(request: Request) -> Response:
    """Show the history that the address asks for."""
    return _page(request, "history.html")


def sheet(request: Request) -> Response:
    """Show the same on one sheet to print: no charts, and nothing about single children."""
    return _page(request, "history_sheet.html")


def _page(request: Request, template: str) -> Response:
    # numpy, only where it is asked for
    from companion.weeks.history import RECENT_WEEKS, history  # noqa: PLC0415
    from companion.weeks.need import LEAST_LESSONS  # noqa: PLC0415

    desk, choice = desk_of(request), choice_of(request)
    within = choice.within
    with desk.log() as log:
        found = history(log, within, desk.clock().date())
        unit = choice.unit(first_day(log, within))
        rows = earned(log, within, unit)
        groups = log.class_groups()
        newest = log.summaries(within.class_group, most=NEWEST)
        beside = _beside(log, choice)
    return desk.page(
        template,
        choice=choice,
        class_group=within.class_group,
        groups=groups,
        unit=_(UNITS[unit]),
        spans=spans_of(rows, unit),
        recognitions=recognitions_of(rows),
        found=found,
        least_lessons=LEAST_LESSONS,
        recent_weeks=RECENT_WEEKS,
        ratio=ratio_words(found.praise, found.reminder),
        beside=beside,
        newest=newest,
        charts={name: drawn(made) for name, made in _charts(rows, found.phases, unit).items()},
        titles=CHARTS,
        today=desk.clock().date(),
    )


async def taught(request: Request) -> Response:
    """Record that a routine was taught again, in the newest lesson of its class group."""
    form = await request.form()
    await run_in_threadpool(_taught, desk_of(request), form)
    return then(f"/history?{urlencode(parse_qsl(text(form, 'look'), keep_blank_values=True))}")


def _taught(desk: Desk, form: FormData) -> None:
    class_group = text(form, "class_group")
    with desk.log() as log:
        newest = log.summaries(class_group, most=1)
    if not newest:
        raise CompanionError(
            _("The log has no lesson of {class_group}.", class_group=class_group),
            remedy=_("Load the page again."),
        )
    body = RoutineTaughtAgain(text(form, "phase"), text(form, "routine"))
    desk.port.append(newest[0].session, (body,), request=wish_of(form))


def chart(request: Request) -> Response:
    """Give a chart as a file: SVG or PNG."""
    name, kind = request.path_params["name"], request.path_params["kind"]
    if name not in CHARTS or kind not in ("svg", "png"):
        raise HTTPException(404)
    desk, choice = desk_of(request), choice_of(request)
    with desk.log() as log:
        unit = choice.unit(first_day(log, choice.within))
        rows = earned(log, choice.within, unit)
        phases = coverage(phase_looks(log, choice.within))
    made = _charts(rows, phases, unit)[name]
    who = choice.within.class_group or _("all class groups")
    svg = chart_file(made, f"{_(CHARTS[name])}: {who}")
    content = svg.encode() if kind == "svg" else svg_to_bytes(svg_string=svg, width=PNG_WIDTH)
    return Response(
        content,
        media_type="image/svg+xml" if kind == "svg" else "image/png",
        headers={"Content-Disposition": f"attachment; filename*=UTF-8''{quote(f'{name} {who}.{kind}')}"},
    )


def _charts(rows: Sequence[Earned], phases: Sequence[Coverage], unit: Unit) -> Mapping[str, Bars]:
    spans = spans_of(rows, unit)
    return {
        "praise": share_chart(spans),
        "recognitions": recognitions_chart(spans, recognitions_of(rows)),
        "phases": phases_chart(phases),
    }


def _beside(log: SessionLog, choice: SpanChoice) -> list[Beside]:
    """Return the class groups of a grade side by side; all of them where none was chosen."""
    chosen = choice.within.class_group
    marks = group_marks(log, replace(choice.within, class_group=None))
    return [
        Beside(one, share(one.praise, one.praise + one.reminder))
        for one in marks
        if chosen is None or grade_of(one.class_group) == grade_of(chosen)
    ]
