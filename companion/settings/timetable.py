"""`[timetable]` of the settings file, checked and turned into a `Timetable`."""

import re
from collections.abc import Iterator
from datetime import date, time, timedelta
from itertools import pairwise
from typing import Annotated, Literal, Self
from zoneinfo import ZoneInfo

from pydantic import BeforeValidator, Field, model_validator

from companion.language import _
from companion.lesson.timetable import USUAL, WEEKDAYS, Change, Entry, Hours, Timetable
from companion.settings.section import Name, Section

LONGEST_YEAR_DAYS = 800


def _weekday(value: object) -> object:
    """Read any usual form of a weekday: `Mon`, `monday`."""
    short = str(value).strip().lower()[:3]
    if short not in WEEKDAYS:
        msg = _(
            "'{value}' is not a weekday; write one of {weekdays}", value=value, weekdays=", ".join(WEEKDAYS)
        )
        raise ValueError(msg)
    return short


def _span(value: object) -> object:
    """Read `08:30-09:15` as two times."""
    found = re.fullmatch(r"\s*(\d{1,2}):(\d{2})\s*[-–]\s*(\d{1,2}):(\d{2})\s*", str(value))
    numbers = [int(part) for part in found.groups()] if found else [99, 99, 99, 99]
    if not (numbers[0] < 24 and numbers[2] < 24 and numbers[1] < 60 and numbers[3] < 60):
        msg = _(
            "'{value}' is not a time of the day; write it as in {example}",
            value=value,
            example='"08:30-09:15"',
        )
        raise ValueError(msg)
    begins, ends = time(numbers[0], numbers[1]), time(numbers[2], numbers[3])
    if begins >= ends:
        msg = _(
            "'{value}' ends before it begins; write the earlier time first, by the 24-hour clock", value=value
        )
        raise ValueError(msg)
    return begins, ends


Weekday = Annotated[str, BeforeValidator(_weekday)]
TimesOfDay = Annotated[tuple[time, time], BeforeValidator(_span)]


class BreakSection(Section):
    """Several days in a row without school: `{ from = 2026-12-21, to = 2027-01-01 }`."""

    begins: date = Field(alias="from")
    ends: date = Field(alias="to")


class LessonSection(Section):
    """`[[timetable.lessons]]`: a class that comes every week, or once in each rotation."""

    day: Name | tuple[Name, ...]
    period: Name
    class_group: Name
    plan: Name | None = None
    room: str = ""


class ExtraSection(Section):
    """`[[timetable.exceptions.lessons]]`: a lesson of one date."""

    period: Name
    class_group: Name
    plan: Name | None = None
    room: str = ""


class ExceptionSection(Section):
    """`[[timetable.exceptions]]`: a date that goes differently."""

    on: date = Field(alias="date")
    day: Name | None = None
    hours: Name | None = None
    cancel: tuple[Name, ...] = ()
    lessons: tuple[ExtraSection, ...] = ()


class TimetableSection(Section):
    """`[timetable]`: the school year, its hours and its lessons."""

    begins: date
    ends: date
    zone: str = ""
    """Name of the school's time zone, such as `America/Chicago`; empty: the computer's own."""
    opens: Literal["clock", "hand"] = "clock"
    """Whether a session opens by itself at its time, or when the teacher says so."""
    rotation: tuple[Name, ...] = ()
    week: tuple[Weekday, ...] = WEEKDAYS[:5]
    no_school: tuple[date | BreakSection, ...] = ()
    hours: dict[Name, dict[Name, TimesOfDay]]
    weekly_hours: dict[Weekday, Name] = Field(default_factory=dict)
    lessons: tuple[LessonSection, ...] = ()
    exceptions: tuple[ExceptionSection, ...] = ()

    @model_validator(mode="after")
    def _holds_together(self) -> Self:
        for problem in self._problems():
            raise ValueError(problem)
        return self

    def timetable(self) -> Timetable:
        """Return the timetable as the lesson knows it."""
        return Timetable(
            zone=ZoneInfo(self.zone) if self.zone else _local_zone(),
            first=self.begins,
            last=self.ends,
            hours=self.hours,
            entries=tuple(self._entries()),
            rotation=self.rotation,
            week=frozenset(self.week),
            weekly_hours=self.weekly_hours,
            no_school=frozenset(self._no_school()),
            changes={exception.on: self._change(exception) for exception in self.exceptions},
        )

    @property
    def class_groups(self) -> frozenset[str]:
        """Names of all class groups that come."""
        extra = (lesson.class_group for exception in self.exceptions for lesson in exception.lessons)
        return frozenset((*(lesson.class_group for lesson in self.lessons), *extra))

    @property
    def plans(self) -> frozenset[str]:
        """Names of all plans that it asks for."""
        extra = (lesson.plan for exception in self.exceptions for lesson in exception.lessons)
        return frozenset(plan for plan in (*(lesson.plan for lesson in self.lessons), *extra) if plan)

    def _day(self, name: str) -> str | None:
        """Return a day as the timetable calls it, or None if there is no such day."""
        known = {day.casefold(): day for day in self.rotation or WEEKDAYS}
        short = name.casefold() if self.rotation else name.casefold()[:3]
        return known.get(short)

    def _entries(self) -> Iterator[Entry]:
        for lesson in self.lessons:
            for name in [lesson.day] if isinstance(lesson.day, str) else lesson.day:
                day = self._day(name) or name
                yield Entry(day, lesson.period, lesson.class_group, lesson.plan, lesson.room)

    def _change(self, exception: ExceptionSection) -> Change:
        entries = tuple(Entry("", x.period, x.class_group, x.plan, x.room) for x in exception.lessons)
        day = exception.day and self._day(exception.day)
        return Change(day, exception.hours, frozenset(exception.cancel), entries)

    def _no_school(self) -> Iterator[date]:
        for entry in self.no_school:
            if isinstance(entry, date):
                yield entry
            else:
                for count in range((entry.ends - entry.begins).days + 1):
                    yield entry.begins + timedelta(days=count)

    def _problems(self) -> Iterator[str]:
        """Yield what is wrong, each with its remedy."""
        yield from self._year_problems()
        yield from self._hours_problems()
        yield from self._lesson_problems()
        yield from self._exception_problems()

    def _year_problems(self) -> Iterator[str]:
        if not 0 <= (self.ends - self.begins).days <= LONGEST_YEAR_DAYS:
            yield _(
                "the year from {begins} to {ends} is no school year; correct begins or ends",
                begins=self.begins,
                ends=self.ends,
            )
        if len({day.casefold() for day in self.rotation}) < len(self.rotation):
            yield _("two days of the rotation have the same name; rename one of them")
        if self.zone and not _is_zone(self.zone):
            yield _("zone = '{zone}' is not a time zone; write it as in 'America/Chicago'", zone=self.zone)
        for entry in self.no_school:
            if isinstance(entry, BreakSection) and not 0 <= (entry.ends - entry.begins).days <= 366:
                yield _(
                    "no_school from {begins} to {ends} can't be; the earlier date comes first",
                    begins=entry.begins,
                    ends=entry.ends,
                )

    def _hours_problems(self) -> Iterator[str]:
        if USUAL not in self.hours:
            yield _(
                "hours.{usual} is missing; add [timetable.hours.{usual}] with the times of each period",
                usual=USUAL,
            )
        asked = [(f"weekly_hours.{day}", name) for day, name in self.weekly_hours.items()]
        asked += [(_("the exception of {on}", on=x.on), x.hours) for x in self.exceptions if x.hours]
        for where, name in asked:
            if name not in self.hours:
                yield _(
                    "{where} asks for hours that are not there; add [timetable.hours.{name}]",
                    where=where,
                    name=name,
                )

    def _lesson_problems(self) -> Iterator[str]:
        periods = {period for hours in self.hours.values() for period in hours}
        seen: dict[tuple[str, str], str] = {}
        for entry in self._entries():
            if self._day(entry.day) is None:
                days = ", ".join(self.rotation or WEEKDAYS)
                yield _(
                    "{class_group} comes on day '{day}'; there is none: write one of {days}",
                    class_group=entry.class_group,
                    day=entry.day,
                    days=days,
                )
            elif not self.rotation and entry.day not in self.week:
                days = ", ".join(f'"{day}"' for day in (*self.week, entry.day))
                yield _(
                    "{class_group} comes on {day}, which is no school day; add it: week = [{days}]",
                    class_group=entry.class_group,
                    day=entry.day,
                    days=days,
                )
            if entry.period not in periods:
                yield _(
                    "{class_group} comes in period '{period}', which no hours have; add it",
                    class_group=entry.class_group,
                    period=entry.period,
                )
            other = seen.setdefault((entry.day, entry.period), entry.class_group)
            if other != entry.class_group:
                yield _(
                    "{other} and {class_group} both come on day {day} in period {period}; move one of them",
                    other=other,
                    class_group=entry.class_group,
                    day=entry.day,
                    period=entry.period,
                )
        for name, hours in self.hours.items():
            for day in {day for day, _period in seen}:
                held = {period for on, period in seen if on == day}
                yield from _overlaps(hours, held, day, name)

    def _exception_problems(self) -> Iterator[str]:
        free = set(self._no_school())
        periods = {period for hours in self.hours.values() for period in hours}
        seen: set[date] = set()
        for exception in self.exceptions:
            on = exception.on
            if on in seen:
                yield _("there are two exceptions for {on}; put them together", on=on)
            seen.add(on)
            if on in free:
                yield _("{on} has an exception and is in no_school; take it out of one of them", on=on)
            if not self.begins <= on <= self.ends:
                yield _("the exception of {on} is outside the school year; correct the date", on=on)
            if exception.day and self._day(exception.day) is None:
                days = ", ".join(self.rotation or WEEKDAYS)
                yield _(
                    "the exception of {on} is held as day '{day}'; write one of {days}",
                    on=on,
                    day=exception.day,
                    days=days,
                )
            for period in (*exception.cancel, *(lesson.period for lesson in exception.lessons)):
                if period not in periods:
                    yield _(
                        "the exception of {on} names period '{period}', which no hours have; correct it",
                        on=on,
                        period=period,
                    )


def _overlaps(hours: Hours, held: set[str], day: str, name: str) -> Iterator[str]:
    """Yield each pair of periods that a teacher can't hold both."""
    spans = sorted((hours[period], period) for period in held & set(hours))
    for (first, earlier), (second, later) in pairwise(spans):
        if second[0] < first[1]:
            yield _(
                "the periods {earlier} and {later} overlap on day {day} under the hours '{name}'; "
                "correct the times or move a lesson",
                earlier=earlier,
                later=later,
                day=day,
                name=name,
            )


def _is_zone(name: str) -> bool:
    try:
        ZoneInfo(name)
    except (KeyError, ValueError, OSError):
        return False
    return True


def _local_zone() -> ZoneInfo:
    from tzlocal import get_localzone  # noqa: PLC0415 - looks at the system's own settings

    return get_localzone()
