"""What is looked after beyond the lesson, as events: promises, awards, carry-overs, the note's way.

Each is recorded in the session that it comes from, also when that is settled; none moves the count.
"""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from companion.language import later


@dataclass(frozen=True, slots=True)
class CarryOverDropped:
    """A carry-over need not be said any more. origin: the session that it was written in."""

    origin: str
    reason: str = ""


@dataclass(frozen=True, slots=True)
class CarryOverMoved:
    """A carry-over is to be said to another class group. origin: the session that it was written in."""

    origin: str
    class_group: str


@dataclass(frozen=True, slots=True)
class PromiseKept:
    """The family of an individual note was contacted."""

    note: str
    on: date
    line: str = ""
    """What came of it, in a sentence."""
    tell: bool = False
    """Whether it stands on the class's next hand-off note."""


@dataclass(frozen=True, slots=True)
class PromiseMoved:
    """A family will be contacted on another day."""

    note: str
    due: date


@dataclass(frozen=True, slots=True)
class PromiseDropped:
    """A family will not be contacted, for a reason."""

    note: str
    reason: str


@dataclass(frozen=True, slots=True)
class AwardGiven:
    """The object that goes with the recognition went home with the class."""

    object: str


@dataclass(frozen=True, slots=True)
class AwardReturned:
    """The object that this session gave out is back."""


@dataclass(frozen=True, slots=True)
class AwardBroughtBack:
    """The class brought back in this lesson what an earlier one gave out. origin: that session."""

    origin: str


@dataclass(frozen=True, slots=True)
class RoutineTaughtAgain:
    """A routine was taught again in this session. routine: "" for the phase as a whole."""

    phase: str
    routine: str = ""


@dataclass(frozen=True, slots=True)
class SessionTaught:
    """Who taught the session was said: the teacher, or a guest in the teacher's place."""

    by_guest: bool


class HandOver(StrEnum):
    """How a hand-off note reached the class's own teacher."""

    PRINTED = later("printed")
    COPIED = later("copied")
    GIVEN = later("given")


@dataclass(frozen=True, slots=True)
class NoteHandedOver:
    """The hand-off note was handed over as it was then."""

    how: HandOver


Aftercare = (
    CarryOverDropped
    | CarryOverMoved
    | PromiseKept
    | PromiseMoved
    | PromiseDropped
    | AwardGiven
    | AwardReturned
    | AwardBroughtBack
    | RoutineTaughtAgain
    | SessionTaught
    | NoteHandedOver
)
