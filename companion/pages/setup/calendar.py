"""A week out of a calendar file (iCalendar): what comes again at the same time of the week."""

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo
from typing import Any

from companion.errors import CompanionError
from companion.language import _
from companion.lesson.timetable import weekday

WEEKS = 4
"""So many weeks are looked at; what comes in only one of them is no lesson of every week."""
FREE = re.compile(
    r"no school|holiday|break|recess|vacation|closed|day off|feriado|festivo|휴일|방학", re.IGNORECASE
)
"""How a whole day is called on which there is no school."""


@dataclass(frozen=True, slots=True)
class Slot:
    """A lesson of every week."""

    day: str
    """A weekday, as in `mon`."""
    span: str
    """As in `08:30-09:15`."""
    class_group: str


@dataclass(frozen=True, slots=True)
class CalendarWeek:
    """What a calendar says of the week."""

    slots: tuple[Slot, ...]
    left_out: tuple[str, ...]
    """Names of what is at the same time as something that was taken."""
    free: tuple[date, ...]
    """Whole days without school, by what they are called."""


def week_in(data: bytes, first: date, last: date, zone: tzinfo) -> CalendarWeek:
    """Return the lessons of every week in a calendar file, and the days without school.

    Raises CompanionError for what is no calendar, and where nothing in it comes again.
    """
    import icalendar  # noqa: PLC0415 - a sixth of a second, and only for such a file
    import recurring_ical_events  # noqa: PLC0415

    try:
        calendar = icalendar.Calendar.from_ical(data)
        events = recurring_ical_events.of(calendar)
        counted = Counter(slot for slot in _slots(events, _begin(calendar, first), zone))
        free = sorted(set(_free(events, first, last)))
    except (ValueError, KeyError, TypeError, AttributeError, IndexError) as error:
        raise CompanionError(
            _("This file is no calendar that can be read."),
            safe=_("Nothing was changed."),
            remedy=_("Export it from your calendar again, as iCalendar (.ics)."),
        ) from error
    often = [slot for slot, times in counted.most_common() if times > 1]
    if not often:
        raise CompanionError(
            _("Nothing in this calendar comes again every week within {weeks} weeks.", weeks=WEEKS),
            safe=_("Nothing was changed."),
            remedy=_("Choose the calendar in which your lessons stand, or paste the week."),
        )
    taken: dict[tuple[str, str], Slot] = {}
    left_out = []
    for slot in often:
        if (slot.day, slot.span) in taken:
            left_out.append(slot.class_group)
        else:
            taken[slot.day, slot.span] = slot
    return CalendarWeek(tuple(taken.values()), tuple(dict.fromkeys(left_out)), tuple(free))


def _begin(calendar: Any, first: date) -> date:  # noqa: ANN401 - icalendar has types of its own
    """Return the day from which on to look: `first`, or the last weeks of a calendar that is of before."""
    days = [_day(event["DTSTART"].dt) for event in calendar.walk("VEVENT") if "DTSTART" in event]
    endless = any("RRULE" in event for event in calendar.walk("VEVENT"))
    newest = max(days, default=first)
    return first if endless or newest >= first else newest - timedelta(weeks=WEEKS)


def _slots(events: Any, begin: date, zone: tzinfo) -> Iterator[Slot]:  # noqa: ANN401
    for event in events.between(begin, begin + timedelta(weeks=WEEKS)):
        begins, ends = event["DTSTART"].dt, event["DTEND"].dt
        name = " ".join(str(event.get("SUMMARY", "")).split())[:80]
        if not isinstance(begins, datetime) or not name:
            continue
        begins, ends = (at.astimezone(zone) if at.tzinfo else at for at in (begins, ends))
        if begins.date() == ends.date() and begins < ends:
            yield Slot(weekday(begins.date()), f"{begins:%H:%M}-{ends:%H:%M}", name)


def _free(events: Any, first: date, last: date) -> Iterator[date]:  # noqa: ANN401
    for event in events.between(first, last + timedelta(days=1)):
        begins, ends = event["DTSTART"].dt, event["DTEND"].dt
        if isinstance(begins, datetime) or not FREE.search(str(event.get("SUMMARY", ""))):
            continue
        for count in range(max(1, (ends - begins).days)):
            day = begins + timedelta(days=count)
            if first <= day <= last and day.weekday() < 5:
                yield day


def _day(at: date) -> date:
    return at.date() if isinstance(at, datetime) else at
