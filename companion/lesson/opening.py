"""Which lesson is to be opened."""

from dataclasses import dataclass

UNPLANNED = "unplanned"
"""Class group of a session of which nobody has said yet whose it is, or whose opening was lost."""


@dataclass(frozen=True, slots=True)
class Opening:
    """Which session to open."""

    class_group: str
    plan: str | None = None
    """None: the first plan of the settings."""
    room: str = ""
    """Empty: the room of the settings."""
