"""A look at the teacher's own practice: private, and never a verdict."""

from starlette.requests import Request
from starlette.responses import Response

from companion.log.weeks import hour_counts, mark_sources, phrases_heard
from companion.pages.desk import desk_of
from companion.pages.history import choice_of
from companion.weeks.practice import by_class, by_hour, often_corrected, ways


def show(request: Request) -> Response:
    """Show praise by class and hour, how marks came about, and phrases that are often put right."""
    desk, choice = desk_of(request), choice_of(request)
    with desk.log() as log:
        hours = hour_counts(log, choice.within)
        phrases = phrases_heard(log, choice.within)
        sources = mark_sources(log, choice.within)
    return desk.page(
        "practice.html",
        choice=choice,
        groups=[],
        today=desk.clock().date(),
        parts_by=(("Class group", by_class(hours)), ("Lessons that begin at", by_hour(hours))),
        ways=ways(sources),
        phrases=phrases,
        often=often_corrected(phrases),
    )
