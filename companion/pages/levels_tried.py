"""Another table of levels tried on the lessons of the past, before it is changed."""

from collections.abc import Mapping

from starlette.requests import Request
from starlette.responses import Response

from companion.errors import CompanionError
from companion.language import _
from companion.lesson.recognition import Level
from companion.log.weeks import margins
from companion.pages.desk import desk_of
from companion.pages.history import choice_of
from companion.settings.settings import load_settings
from companion.weeks.levels import tried

MOST_LEVELS = 12


def show(request: Request) -> Response:
    """Show both tables side by side on the lessons that the address asks for."""
    desk, choice = desk_of(request), choice_of(request)
    now = load_settings(desk.home.settings).levels_table() if desk.home.settings.exists() else ()
    then = _levels_of(request.query_params, now)
    with desk.log() as log:
        counts = margins(log, choice.within)
        groups = log.class_groups()
    return desk.page(
        "levels.html",
        choice=choice,
        groups=groups,
        today=desk.clock().date(),
        now=now,
        then=then,
        tried=tried(now, then, counts),
        lessons=sum(count.lessons for count in counts),
    )


def _levels_of(query: Mapping[str, str], now: tuple[Level, ...]) -> tuple[Level, ...]:
    """Read the other table; a level without a name is left out, and without any the table in use stands."""
    found = []
    for at in range(MOST_LEVELS):
        name, margin = query.get(f"name-{at}", "").strip()[:80], query.get(f"margin-{at}", "").strip()
        if name:
            try:
                found.append(Level(name, int(margin)))
            except ValueError:
                raise CompanionError(
                    _("The margin of “{name}” is no whole number.", name=name), remedy=_("Write it as in 4.")
                ) from None
    if len({level.least_margin for level in found}) < len(found):
        raise CompanionError(
            _("Two levels have the same margin."), remedy=_("Give each a margin of its own.")
        )
    return tuple(sorted(found, key=lambda level: -level.least_margin)) or now
