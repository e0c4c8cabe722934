"""Which lesson is to be opened."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Opening:
    """Which session to open."""

    class_group: str
    plan: str | None = None
    """None: the first plan of the settings."""
    room: str = ""
    """Empty: the room of the settings."""
