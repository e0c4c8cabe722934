"""The class's routines by phase on a sheet for the classroom's wall, with the teacher's pictures of them."""

import base64
from dataclasses import dataclass

from companion.pages.sheet_of_paper import sheet_of_paper
from companion.settings.pictures import Pictures, of_routine
from companion.settings.settings import Settings


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


def wall_sheet(settings: Settings, pictures: Pictures) -> str:
    """Return the routines of each plan by phase, one sheet a plan, large enough for a wall.

    The pictures are in the page itself, so that it stands alone. No phrase is on it: what the companion
    listens for is not for the class to say.
    """
    plans = [
        (
            section.name,
            [
                PhaseOnTheWall(
                    OnTheWall(phase.name, _address(pictures, of_routine(phase.name))),
                    tuple(
                        OnTheWall(routine, _address(pictures, of_routine(phase.name, routine)))
                        for routine in phase.routines
                    ),
                )
                for phase in section.plan()
                if phase.routines
            ],
        )
        for section in settings.plans
    ]
    return sheet_of_paper("wall_sheet.html", school=settings.school, plans=plans)


def _address(pictures: Pictures, what: str) -> str:
    """Return a picture as the address that holds all of it; "" if there is none."""
    name = pictures.name_of(what)
    file = pictures.file(name) if name else None
    if file is None or not file.is_file():
        return ""
    return f"data:image/jpeg;base64,{base64.b64encode(file.read_bytes()).decode()}"
