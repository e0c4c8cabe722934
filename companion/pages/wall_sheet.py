"""The class's routines by phase on a sheet for the classroom's wall, with the teacher's pictures of them."""

import base64
from collections.abc import Sequence
from dataclasses import dataclass, replace

from companion.pages.paper import LINE_EM, columns_taken, inside_em, largest, lines
from companion.pages.sheet_of_paper import sheet_of_paper
from companion.settings.pictures import Pictures, of_routine
from companion.settings.settings import Settings

MARGIN_MM = 15
SIZES_PT = tuple(half / 2 for half in range(40, 15, -1))
READ_FROM_AFAR_PT = 14
"""Rather than smaller words, pictures become smaller."""
PICTURES_EM = (9.0, 7.0, 5.0, 4.0, 3.0)
COLUMNS = (1, 2, 3)


@dataclass(frozen=True, slots=True)
class OnTheWall:
    """A routine, or a phase, with the address of its picture; "" where it has none."""

    name: str
    picture: str


@dataclass(frozen=True, slots=True)
class PhaseOnTheWall:
    """A phase with its routines."""

    phase: OnTheWall
    routines: tuple[OnTheWall, ...]


@dataclass(frozen=True, slots=True)
class WallLook:
    """How a plan is printed so that it fits one sheet."""

    size_pt: float
    columns: int
    picture_em: float
    """How high a picture is at most."""


@dataclass(frozen=True, slots=True)
class PlanOnTheWall:
    """A plan, what stands above it, and how it is printed."""

    title: str
    phases: tuple[PhaseOnTheWall, ...]
    look: WallLook


def wall_look(title: str, phases: Sequence[PhaseOnTheWall]) -> WallLook:
    """Return the largest words, with the largest pictures that leave them large, for one sheet.

    What fits no sheet goes on to a second one, large enough to be read.
    """
    best = WallLook(0, 1, 0)
    for picture_em in PICTURES_EM:
        looks = [_largest(title, phases, WallLook(0, columns, picture_em)) for columns in COLUMNS]
        best = max(best, *looks, key=lambda look: look.size_pt)
        if best.size_pt >= READ_FROM_AFAR_PT:
            break
    return best if best.size_pt else WallLook(READ_FROM_AFAR_PT, COLUMNS[1], PICTURES_EM[-1])


def _largest(title: str, phases: Sequence[PhaseOnTheWall], look: WallLook) -> WallLook:
    size = largest(SIZES_PT, lambda pt: _fits(title, phases, replace(look, size_pt=pt)))
    return replace(look, size_pt=size)


def _fits(title: str, phases: Sequence[PhaseOnTheWall], look: WallLook) -> bool:
    width, height = inside_em(look.size_pt, MARGIN_MM)
    column = width / look.columns - 1
    above = 1.6 * (LINE_EM * lines(title, width / 1.6) + 0.3)
    heights = [_height(one, column, look.picture_em) for one in phases]
    return columns_taken(heights, height - above) <= look.columns


def _height(one: PhaseOnTheWall, column_em: float, picture_em: float) -> float:
    """Return how high a phase stands in a column, as the sheet's style has it."""
    head = 1.15 * (LINE_EM * lines(one.phase.name, column_em / 1.15) + 0.9)
    routines = [LINE_EM * lines(routine.name, column_em - 1.1) for routine in one.routines]
    pictures = sum(bool(shown.picture) for shown in (one.phase, *one.routines))
    return head + 0.3 + sum(routines) + pictures * (picture_em + 0.6)


def wall_sheet(settings: Settings, pictures: Pictures) -> str:
    """Return the routines of each plan by phase, one sheet a plan, large enough for a wall.

    The pictures are in the page itself, so that it stands alone. No phrase is on it: what the companion
    listens for is not for the class to say.
    """
    plans = []
    for section in settings.plans:
        phases = tuple(
            PhaseOnTheWall(
                OnTheWall(phase.name, _address(pictures, of_routine(phase.name))),
                tuple(
                    OnTheWall(routine, _address(pictures, of_routine(phase.name, routine)))
                    for routine in phase.routines
                ),
            )
            for phase in section.plan()
            if phase.routines
        )
        title = settings.school.room or section.name
        plans.append(PlanOnTheWall(title, phases, wall_look(title, phases)))
    return sheet_of_paper("wall_sheet.html", plans=plans)


def _address(pictures: Pictures, what: str) -> str:
    """Return a picture as the address that holds all of it; "" if there is none."""
    name = pictures.name_of(what)
    file = pictures.file(name) if name else None
    if file is None or not file.is_file():
        return ""
    return f"data:image/jpeg;base64,{base64.b64encode(file.read_bytes()).decode()}"
