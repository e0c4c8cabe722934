"""Sheets to print from the settings: for a guest who takes the lesson, and for the classroom's wall."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from companion.language import _, later
from companion.lesson.command import Action
from companion.lesson.plan import Plan
from companion.lesson.timetable import Lesson
from companion.log.care import waiting_for
from companion.log.store import SessionLog
from companion.pages.desk import desk_of
from companion.pages.paper import LINE_EM, inside_em, largest, lines
from companion.pages.sheet_of_paper import sheet_of_paper
from companion.pages.wall_sheet import wall_sheet
from companion.settings.keys import KeySection
from companion.settings.pictures import Pictures
from companion.settings.settings import TABLE, PhraseSection, Settings, load_settings

NEVER_WRITE = (
    later("a child's name: initials or the number of the seat are enough"),
    later("what a child said in confidence, or anything about a family"),
    later("a judgement about a child; only what was seen"),
)
"""Cautions for somebody who does not know the school's rules."""
MARGIN_MM = 12
SIZES_PT = tuple(quarter / 4 for quarter in range(40, 23, -1))
HEADING_EM = 2.8
"""How high a heading is, with what is free about it."""
ABOVE = "–" * 420
"""As long as the sheet's first lines are in the language that takes most."""


@dataclass(frozen=True, slots=True)
class Coming:
    """A lesson of today, and what its class group is to be told."""

    lesson: Lesson
    left: tuple[str, ...]


def coming(log: SessionLog, settings: Settings, today: date) -> list[Coming]:
    """Return the lessons of a day by the timetable, with what waits to be said to each class group."""
    lessons = settings.timetable.timetable().lessons_on(today) if settings.timetable else ()
    return [
        Coming(lesson, tuple(one.text for one in waiting_for(log, lesson.class_group))) for lesson in lessons
    ]


def guest_sheet(settings: Settings, today: Sequence[Coming]) -> str:
    """Return the sheet for a guest as a page that stands alone: plan, phrases, keys, today's classes."""
    names = dict.fromkeys(one.lesson.plan or settings.plans[0].name for one in today)
    plans = [settings.plan(name) for name in names] or [section.plan() for section in settings.plans]
    phrases = [(phrase.say.replace(TABLE, "…"), _does(phrase)) for phrase in settings.phrases]
    keys = [(key.press, _does(key)) for key in settings.keys]
    return sheet_of_paper(
        "guest_sheet.html",
        size_pt=largest(SIZES_PT, lambda pt: _fits(pt, plans, phrases, keys, today)) or SIZES_PT[-1],
        school=settings.school,
        plans=plans,
        cue=settings.listening.cue,
        phrases=phrases,
        keys=keys,
        today=today,
        never=NEVER_WRITE,
    )


def _fits(
    size_pt: float,
    plans: Sequence[Plan],
    phrases: Sequence[tuple[str, str]],
    keys: Sequence[tuple[str, str]],
    today: Sequence[Coming],
) -> bool:
    """Return whether the sheet is one with words of a size, as its style has it."""
    width, height = inside_em(size_pt, MARGIN_MM)
    side = width / 2 - 2
    rows = ["; ".join(one.left) for one in today]
    rows += ["; ".join(phase.routines) for plan in plans for phase in plan]
    left = sum(lines(f"{press}: {does}", side) for press, does in keys)
    left += sum(lines(_(line), side) for line in NEVER_WRITE)
    right = sum(lines(f"{say}: {does}", side) for say, does in phrases)
    tables = sum(LINE_EM * lines(row, 0.6 * width - 1) + 0.2 for row in rows) + LINE_EM * (1 + len(plans))
    words = LINE_EM * (lines(ABOVE, width) + max(left + 2, right))
    return words + tables + HEADING_EM * (3 + len(plans)) + 2 * HEADING_EM <= height


def guest(request: Request) -> Response:
    """Give the sheet for a guest who teaches today, as a file to print."""
    desk = desk_of(request)
    settings = load_settings(desk.home.settings)
    with desk.log() as log:
        today = coming(log, settings, desk.clock().date())
    return _file(guest_sheet(settings, today), "for a guest.html")


def wall(request: Request) -> Response:
    """Give the sheet for the classroom's wall, as a file to print."""
    home = desk_of(request).home
    return _file(wall_sheet(load_settings(home.settings), Pictures(home.pictures)), "for the wall.html")


def _file(page: str, name: str) -> Response:
    # A page that stands alone carries its own style, which the pages' rules do not let in.
    return HTMLResponse(page, headers={"Content-Disposition": f'attachment; filename="{name}"'})


def _does(section: PhraseSection | KeySection) -> str:
    """Say in words what a phrase or key does."""
    match section.does:
        case Action.PHASE:
            return _("the lesson goes on to {phase}", phase=section.phase)
        case Action.NOTE:
            return _("begins a private note: {kind}", kind=_(str(section.note)))
        case Action.PRAISE | Action.REMINDER if section.routine:
            return _("{mark} for “{routine}”", mark=_(section.does), routine=section.routine)
        case Action.PRAISE | Action.REMINDER if isinstance(section, PhraseSection) and TABLE in section.say:
            return _("{mark} for the table of that name", mark=_(section.does))
        case does:
            return _(does)
