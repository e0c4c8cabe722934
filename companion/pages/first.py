"""What is said and asked for first when a class has come, and the pictures that go with words."""

from dataclasses import dataclass

from companion.lesson.session import Session
from companion.log.care import Lent, awards_out
from companion.log.store import SessionLog
from companion.pages.desk import Desk
from companion.settings.pictures import Pictures, of_carry_over, of_routine


@dataclass(frozen=True, slots=True)
class ToSay:
    """A carry-over that waited for the class."""

    origin: str
    text: str
    said: bool
    picture: str
    """The file of its picture; "" if there is none."""


@dataclass(frozen=True, slots=True)
class First:
    """All that comes first."""

    to_say: tuple[ToSay, ...]
    bring_back: tuple[Lent, ...]


def first_of(desk: Desk, log: SessionLog, session: Session) -> First:
    """Return what comes first in `session`."""
    shelf, left = Pictures(desk.home.pictures), {one.origin for one in session.to_say}
    lent = [] if session.closed else awards_out(log, session.class_group)
    return First(
        tuple(
            ToSay(one.origin, one.text, one.origin not in left, shelf.name_of(of_carry_over(one.origin)))
            for one in session.waiting
        ),
        tuple(lent),
    )


def routine_pictures(desk: Desk, session: Session) -> dict[str, list[tuple[str, str]]]:
    """Return, by phase, the pictures of what the class was marked for: each file's name with its words."""
    shelf = Pictures(desk.home.pictures)
    marked = dict.fromkeys((mark.phase, mark.routine or "") for mark in session.standing)
    found: dict[str, list[tuple[str, str]]] = {mark.phase: [] for mark in session.standing}
    for phase, routine in marked:
        if name := shelf.name_of(of_routine(phase, routine)):
            found[phase].append((name, routine or phase))
    return found
