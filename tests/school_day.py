"""A made-up school day: settings of Alder Lane School, and a clock that a test turns by hand."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from companion.settings.settings import Settings, parse_settings

ZONE = ZoneInfo("America/Chicago")
EIGHT = datetime(2026, 9, 14, 8, 0, tzinfo=ZONE)
"""A Monday."""

SETTINGS = """
[school]
name = "Alder Lane School"
room = "garden and kitchen"
tables = ["four"]

[[plans]]
name = "garden"
phases = [
  { name = "arrival", minutes = 5, advance = "clock" },
  { name = "work time", minutes = 30 },
  { name = "cleanup", minutes = 10 },
]

[[phrases]]
say = "lovely teamwork"
does = "praise"

[[phrases]]
say = "gentle reminder"
does = "reminder"

[[phrases]]
say = "microphone off"
does = "pause listening"

[[levels]]
name = "ripe harvest"
least_margin = 5

[[levels]]
name = "green shoots"
least_margin = 0

[[keys]]
press = "f9"
does = "praise"

[[keys]]
press = "f10"
does = "reminder"
"""

TIMETABLE = """
[timetable]
begins = 2026-08-24
ends = 2027-06-11
zone = "America/Chicago"

[timetable.hours.usual]
one = "08:00-08:45"
two = "08:45-09:30"
three = "09:45-10:30"
four = "10:30-11:15"
five = "13:00-13:45"
six = "15:00-15:45"
"""

CLASSES = {
    "one": "4-Hazel",
    "two": "2-Birch",
    "three": "5-Oak",
    "four": "K-Fir",
    "five": "3-Elm",
    "six": "1-Ash",
}


def settings(*, timetable: bool = False) -> Settings:
    """Return the settings, with the timetable of six classes on a Monday where asked for."""
    lessons = "".join(
        f'[[timetable.lessons]]\nday = "mon"\nperiod = "{period}"\nclass_group = "{group}"\n'
        for period, group in CLASSES.items()
    )
    return parse_settings(SETTINGS + (TIMETABLE + lessons if timetable else ""), "test.toml")


class HandClock:
    """A clock that stands still until a test moves it."""

    def __init__(self, now: datetime = EIGHT) -> None:
        """Begin at `now`."""
        self._now = now
        self._steady_s = 1000.0

    def wall(self) -> datetime:
        """Return the time on the wall."""
        return self._now

    def steady_s(self) -> float:
        """Return the seconds that never go back."""
        return self._steady_s

    def go_on(self, seconds: float) -> None:
        """Let time pass."""
        self._now += timedelta(seconds=seconds)
        self._steady_s += seconds

    def jump(self, change: timedelta) -> None:
        """Set the clock on the wall to another time, as people and laptops do."""
        self._now += change
