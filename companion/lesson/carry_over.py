"""What is still to be said to a class group: written after one lesson, waiting until it is said."""

from dataclasses import dataclass
from enum import StrEnum

from companion.language import later


@dataclass(frozen=True, slots=True)
class CarriedOver:
    """A carry-over that waits."""

    origin: str
    """The session that it was written in; "" in logs that did not keep it."""
    text: str


class Answer(StrEnum):
    """What became of a carry-over."""

    SAID = later("said")
    MOVED = later("moved")
    """To another class group, where it waits."""
    DROPPED = later("dropped")


@dataclass(frozen=True, slots=True)
class CarryOverAnswer:
    """What became of the carry-over of the session `origin`. class_group: where it was moved to, else ""."""

    origin: str
    answer: Answer
    class_group: str = ""
