"""A look at the teacher's own practice: private, and never a verdict."""

from starlette.requests import Request
from starlette.responses import Response

from companion.errors import CompanionError
from companion.language import _, later
from companion.log.weeks import (
    after_lessons,
    group_marks,
    hour_counts,
    mark_sources,
    phrase_hours,
    phrases_heard,
)
from companion.pages.desk import Desk, desk_of
from companion.pages.history import choice_of
from companion.settings.settings import load_settings
from companion.weeks.practice import by_class, by_hour, often_corrected, ways


def show(request: Request) -> Response:
    """Show praise by class and hour, how marks came about, and phrases that are often put right."""
    desk, choice = desk_of(request), choice_of(request)
    with desk.log() as log:
        groups = group_marks(log, choice.within)
        hours = hour_counts(log, choice.within)
        phrases = phrases_heard(log, choice.within)
        by_hours = phrase_hours(log, choice.within)
        sources = mark_sources(log, choice.within)
        after = after_lessons(log, choice.within)
    asked = request.query_params.get("better", "")
    return desk.page(
        "practice.html",
        choice=choice,
        groups=[],
        today=desk.clock().date(),
        parts_by=((later("Class group"), by_class(groups)), (later("Lessons that begin at"), by_hour(hours))),
        ways=ways(sources),
        phrases=phrases,
        often=often_corrected(phrases),
        by_hours=by_hours,
        after=after,
        asked=asked,
        better=_better(desk, asked) if asked else (),
    )


def _better(desk: Desk, phrase: str) -> tuple[str, ...]:
    """Return other wordings that should be heard better. It loads a dictionary, so only when asked for."""
    from companion.listening.rehearsal.phrase_check import wordings  # noqa: PLC0415 - a dictionary

    settings = load_settings(desk.home.settings) if desk.home.settings.exists() else None
    for section in settings.plans if settings else ():
        vocabulary = settings.vocabulary(section.plan()) if settings else None
        if vocabulary and phrase in vocabulary.phrases:
            names = tuple(phase.name for phase in section.phases if phase.name not in vocabulary.phrases)
            return wordings(phrase, vocabulary, names)
    raise CompanionError(
        _("“{phrase}” is no phrase of the settings any more.", phrase=phrase[:60]),
        remedy=_("Go on from the practice page."),
    )
