"""The two clocks: one for people, which may jump, and one that only goes on."""

import time
from datetime import datetime
from typing import Protocol


class Clock(Protocol):
    """What tells the time."""

    def wall(self) -> datetime:
        """Return the time on the wall, with zone."""
        ...

    def steady_s(self) -> float:
        """Return seconds that never go back, from an unknown beginning."""
        ...


class ComputerClock:
    """The computer's own clocks."""

    def wall(self) -> datetime:
        """Return the local time."""
        return datetime.now().astimezone()

    def steady_s(self) -> float:
        """Return `time.monotonic`, which capture and keys use as well."""
        return time.monotonic()
