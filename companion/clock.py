"""The two clocks: one for people, which may jump, and one that only goes on."""

import sys
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


def steady_s() -> float:
    """Return seconds that never go back, and that pass also while the computer sleeps.

    `time.monotonic` stops on Linux and macOS while a lid is closed: sources are Linux' clock_gettime(2)
    and Apple's clock_gettime(3); on Windows it goes on. Sound, keys and sessions take their times from here.
    """
    if sys.platform == "linux":
        return time.clock_gettime(time.CLOCK_BOOTTIME)
    if sys.platform == "darwin":
        return time.clock_gettime(time.CLOCK_MONOTONIC)
    return time.monotonic()


class ComputerClock:
    """The computer's own clocks."""

    def wall(self) -> datetime:
        """Return the local time."""
        return datetime.now().astimezone()

    def steady_s(self) -> float:
        """Return `steady_s`, which capture and keys use as well."""
        return steady_s()
