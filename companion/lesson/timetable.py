"""Which class comes when: weekdays or a rotation of days, hours and their variants, exceptions by date.

Pure: who asks brings the time. Times of the day are the school's wall clock; comparisons are made in
universal time, so that neither a change of the clocks nor another zone shifts a lesson.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from functools import cached_property

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
USUAL = "usual"
"""Name of the hours that hold where nothing else is said."""

Hours = Mapping[str, tuple[time, time]]
"""When each period begins and ends. A period that a variant leaves out is not held under it."""


@dataclass(frozen=True, slots=True)
class Entry:
    """A lesson as it stands in the timetable: on a day (`mon`, or `A` of a rotation), in a period."""

    day: str
    period: str
    class_group: str
    plan: str | None = None
    room: str = ""


@dataclass(frozen=True, slots=True)
class Change:
    """What is different on one date."""

    day: str | None = None
    """It is held as this day; a rotation goes on from it."""
    hours: str | None = None
    cancelled: frozenset[str] = frozenset()
    """Periods that are not held."""
    entries: tuple[Entry, ...] = ()
    """Held instead of what the timetable has in their periods; their `day` does not matter."""


@dataclass(frozen=True, slots=True)
class Lesson:
    """A lesson on a date. It includes its beginning and not its end, so that two may touch."""

    begins: datetime
    """In the school's zone, as `ends`."""
    ends: datetime
    period: str
    class_group: str
    plan: str | None
    room: str

    def holds(self, now: datetime) -> bool:
        """Return whether `now`, of any zone, is within the lesson."""
        return self.begins.timestamp() <= now.timestamp() < self.ends.timestamp()


@dataclass(frozen=True)
class Timetable:
    """A school year of lessons, from `first` to `last` inclusive."""

    zone: tzinfo
    first: date
    last: date
    hours: Mapping[str, Hours]
    entries: tuple[Entry, ...]
    rotation: tuple[str, ...] = ()
    """Names of its days in order, `first` or the next day with school being the first; () for weekdays."""
    week: frozenset[str] = frozenset(WEEKDAYS[:5])
    weekly_hours: Mapping[str, str] = field(default_factory=dict)
    """Weekdays that always have other hours than the usual ones."""
    no_school: frozenset[date] = frozenset()
    changes: Mapping[date, Change] = field(default_factory=dict)

    @cached_property
    def days(self) -> Mapping[date, str]:
        """The name of every day with school: its weekday, or its day in the rotation."""
        named: dict[date, str] = {}
        turn = 0
        for count in range((self.last - self.first).days + 1):
            on = self.first + timedelta(days=count)
            said = self.changes.get(on, Change()).day
            if on in self.no_school or (said is None and weekday(on) not in self.week):
                continue
            if not self.rotation:
                named[on] = said or weekday(on)
                continue
            if said is not None:
                turn = self.rotation.index(said)
            named[on] = self.rotation[turn]
            turn = (turn + 1) % len(self.rotation)
        return named

    def lessons_on(self, on: date) -> tuple[Lesson, ...]:
        """Return the lessons of a date, in order of time; none on a day without school."""
        day = self.days.get(on)
        if day is None:
            return ()
        change = self.changes.get(on, Change())
        held = {entry.period: entry for entry in self.entries if entry.day == day}
        held |= {entry.period: entry for entry in change.entries}
        hours = self.hours[change.hours or self.weekly_hours.get(weekday(on), USUAL)]
        lessons = (
            self._lesson(on, hours[period], entry)
            for period, entry in held.items()
            if period in hours and period not in change.cancelled
        )
        real = (lesson for lesson in lessons if lesson.begins.timestamp() < lesson.ends.timestamp())
        return tuple(sorted(real, key=lambda lesson: lesson.begins.timestamp()))

    def due(self, now: datetime) -> Lesson | None:
        """Return the lesson that `now`, with a zone, falls into."""
        today = self.lessons_on(now.astimezone(self.zone).date())
        return next((lesson for lesson in reversed(today) if lesson.holds(now)), None)

    def next_after(self, now: datetime) -> Lesson | None:
        """Return the first lesson that begins later than `now`, or None when the year has no more."""
        return next((x for x in self._from(now) if x.begins.timestamp() > now.timestamp()), None)

    def _from(self, now: datetime) -> Iterator[Lesson]:
        today = now.astimezone(self.zone).date()
        for on in self.days:
            if on >= today:
                yield from self.lessons_on(on)

    def _lesson(self, on: date, hours: tuple[time, time], entry: Entry) -> Lesson:
        begins, ends = (self._instant(on, at) for at in hours)
        return Lesson(begins, ends, entry.period, entry.class_group, entry.plan, entry.room)

    def _instant(self, on: date, at: time) -> datetime:
        """Return when the school's clock shows `at`; a moment that the clock skips becomes a real one."""
        return datetime.combine(on, at, self.zone).astimezone(UTC).astimezone(self.zone)


def weekday(on: date) -> str:
    """Return the name of a date's weekday, as in `WEEKDAYS`."""
    return WEEKDAYS[on.weekday()]
