"""The settings of the week: seven school days of Alder Lane School in a rotation, 35 lessons.

An early release on the Friday, the end of daylight saving on the Sunday, a holiday on the Tuesday, and an
outing that takes the first four lessons of the last day.
"""

from datetime import date
from zoneinfo import ZoneInfo

from companion.settings.settings import Settings, parse_settings

ZONE = ZoneInfo("America/Chicago")
FIRST, LAST = date(2026, 10, 28), date(2026, 11, 5)
SHORT_DAY = date(2026, 10, 30)
"""The early release."""
GROUPS = {
    "A": ("4-Hazel", "2-Birch", "5-Oak", "K-Fir", "3-Elm", "1-Ash", "4-Willow"),
    "B": ("5-Rowan", "3-Maple", "1-Alder", "2-Cherry", "4-Linden", "K-Larch", "5-Yew"),
    "C": ("4-Hazel", "2-Birch", "5-Oak", "K-Fir", "3-Elm", "1-Ash", "4-Willow"),
    "D": ("5-Rowan", "3-Maple", "1-Alder", "2-Cherry", "4-Linden", "K-Larch", "5-Yew"),
}
PLAN = "garden lesson"

SETTINGS = """
[school]
name = "Alder Lane School"
room = "garden and kitchen"
tables = ["one", "two", "three", "four", "five", "six"]

[listening]
cue = "velvet compass"

[[plans]]
name = "garden lesson"
phases = [
  { name = "arrival", minutes = 5, routines = ["boots at the door"], advance = "clock" },
  { name = "instruction", minutes = 8, routines = ["hand up to speak"] },
  { name = "set up", minutes = 5, routines = ["one table at a time"] },
  { name = "work time", minutes = 17, routines = ["indoor voices"] },
  { name = "cleanup", minutes = 6, routines = ["tools back"] },
  { name = "line up", minutes = 4, routines = ["chair in"] },
]

[[levels]]
name = "Full bloom"
least_margin = 5
[[levels]]
name = "In bud"
least_margin = 2
[[levels]]
name = "Sprouting"
least_margin = 0

[[keys]]
press = "f9"
does = "praise"
[[keys]]
press = "f10"
does = "reminder"
[[keys]]
press = "page_down hold"
does = "praise"
[[keys]]
press = "page_up double"
does = "reminder"
[[keys]]
press = "f7"
does = "next phase"
[[keys]]
press = "f8"
does = "undo"

[timetable]
begins = 2026-10-28
ends = 2027-06-11
zone = "America/Chicago"
rotation = ["A", "B", "C", "D"]
no_school = [2026-11-03]

[timetable.hours.usual]
1 = "08:00-08:45"
2 = "08:45-09:30"
3 = "09:30-10:15"
4 = "10:30-11:15"
5 = "11:15-12:00"
6 = "13:00-13:45"
7 = "13:45-14:30"

[timetable.hours.early_release]
1 = "08:00-08:45"
2 = "08:45-09:30"
3 = "09:30-10:15"
4 = "10:30-11:15"

[[timetable.exceptions]]
date = 2026-10-30
hours = "early_release"

[[timetable.exceptions]]
date = 2026-11-05
cancel = ["1", "2", "3", "4"]
"""

PHRASES = {
    "praise": "praise",
    "table {table} praise": "praise",
    "reminder": "reminder",
    "table {table} reminder": "reminder",
    "take it back": "undo",
    "next phase": "next phase",
    "pause listening": "pause listening",
}
SPOKEN_PHASES = ("instruction", "set up", "work time", "cleanup", "line up")


def text() -> str:
    """Return the settings file of the week."""
    parts = [SETTINGS]
    parts += [f'[[phrases]]\nsay = "{say}"\ndoes = "{does}"\n' for say, does in PHRASES.items()]
    parts += [f'[[phrases]]\nsay = "{say}"\ndoes = "phase"\nphase = "{say}"\n' for say in SPOKEN_PHASES]
    for day, groups in GROUPS.items():
        parts += [
            f'[[timetable.lessons]]\nday = "{day}"\nperiod = "{period}"\nclass_group = "{group}"\n'
            for period, group in enumerate(groups, start=1)
        ]
    return "\n".join(parts)


def settings() -> Settings:
    """Return the settings of the week."""
    return parse_settings(text(), "week.toml")
