"""Which lesson of the timetable a class that was opened by hand stands in."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from companion.lesson.timetable import Lesson

EARLY = timedelta(minutes=15)
"""A class that was opened so long before its time was opened for that lesson."""
CHANGING = timedelta(minutes=5)
"""A class opened in a lesson's last minutes, and not for it, came early for the next one."""


def places(lessons: Sequence[Lesson], class_group: str, opened_at: datetime) -> list[int]:
    """Return the places of the lessons that a class can have been opened for, the likeliest first.

    Those of its own class group, if any is near. A class that stands in none of them came in another's place:
    in that of the lesson that was going on, and only when that was about to end, of the next one.
    """
    near = [place for place, one in enumerate(lessons) if one.begins - EARLY <= opened_at < one.ends]
    own = [place for place in near if lessons[place].class_group == class_group]
    if own:
        return own
    going_on = [place for place in reversed(near) if lessons[place].begins <= opened_at]
    coming = [place for place in near if place not in going_on][:1]
    if going_on and lessons[going_on[0]].ends - opened_at > CHANGING:
        return going_on
    return coming + going_on
