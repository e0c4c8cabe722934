"""The week in the settings file: its days, periods, times and lessons, read and written cell by cell."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from typing import Any

import tomlkit
from tomlkit.items import AoT

from companion.lesson.timetable import USUAL, WEEKDAYS
from companion.pages.setup.form import rows_in

Cells = Mapping[tuple[str, str], tuple[str, str]]
"""Class group and plan (empty: the usual one) by day and period."""


def days_of(timetable: Mapping[str, Any]) -> list[str]:
    """Return the days of the week as it is taught: those of the rotation, else the weekdays with school."""
    rotation = [str(day) for day in timetable.get("rotation", ())]
    return rotation or [str(day).lower()[:3] for day in timetable.get("week", WEEKDAYS[:5])]


def variants_of(timetable: Mapping[str, Any]) -> list[str]:
    """Return the names of the sets of times, the usual one first."""
    hours = timetable.get("hours", {})
    return [USUAL, *(str(name) for name in hours if name != USUAL)]


def periods_of(timetable: Mapping[str, Any]) -> list[str]:
    """Return the names of all periods, in the order in which they are held."""
    hours = timetable.get("hours", {})
    found = dict.fromkeys(str(name) for times in hours.values() for name in times)
    usual = hours.get(USUAL, {})
    return sorted(found, key=lambda name: (name not in usual, _begin(str(usual.get(name, "")))))


def _begin(span: str) -> str:
    return span.strip().split("-", maxsplit=1)[0].strip().zfill(5)


def cells_of(timetable: Mapping[str, Any]) -> dict[tuple[str, str], tuple[str, str]]:
    """Return what comes when."""
    days = days_of(timetable)
    return {
        (day, str(row.get("period", ""))): (str(row.get("class_group", "")), str(row.get("plan", "")))
        for row in rows_in(timetable, "lessons")
        for day in (_known(str(day), days) for day in _days_in(row))
    }


def put(timetable: Any, day: str, period: str, lesson: tuple[str, str]) -> None:  # noqa: ANN401 - of tomlkit
    """Let `lesson`, a class group and its plan, come on a day in a period; an empty class group lets none."""
    room = _take_out(timetable, day, period)
    class_group, plan = lesson
    if not class_group:
        return
    for row in timetable.get("lessons", ()):
        same = (row.get("class_group"), row.get("period"), row.get("plan", ""), row.get("room", ""))
        if same == (class_group, period, plan, room):
            row["day"] = [*_days_in(row), day]
            return
    row = tomlkit.table()
    row.update({"day": day, "period": period, "class_group": class_group})
    row.update({key: value for key, value in (("plan", plan), ("room", room)) if value})
    lessons_in(timetable).append(row)


def lessons_in(timetable: Any) -> Any:  # noqa: ANN401 - containers of tomlkit
    """Return the lessons as tables that can be added to; they are made where there are none."""
    lessons = timetable.get("lessons")
    if isinstance(lessons, AoT):
        return lessons
    rows = list(lessons or ())
    if lessons is not None:
        del timetable["lessons"]
    timetable.add("lessons", tomlkit.aot())
    for row in rows:
        table = tomlkit.table()
        table.update(row)
        timetable["lessons"].append(table)
    return timetable["lessons"]


def _take_out(timetable: Any, day: str, period: str) -> str:  # noqa: ANN401
    """Take a lesson out of a cell, and return the room that it was in."""
    lessons, days, room = timetable.get("lessons", ()), days_of(timetable), ""
    for index in reversed(range(len(lessons))):
        row = lessons[index]
        held = _days_in(row)
        if row.get("period") != period or day not in (_known(one, days) for one in held):
            continue
        room = str(row.get("room", ""))
        rest = [one for one in held if _known(one, days) != day]
        if rest:
            row["day"] = rest[0] if len(rest) == 1 else rest
        else:
            del lessons[index]
    return room


def _days_in(row: Mapping[str, Any]) -> list[str]:
    day = row.get("day", ())
    return [str(day)] if isinstance(day, str) else [str(one) for one in day]


def _known(day: str, days: Sequence[str]) -> str:
    """Return a day as the week calls it: `Monday` is `mon`."""
    by_name = {one.casefold(): one for one in days}
    return by_name.get(day.casefold()) or by_name.get(day.casefold()[:3]) or day


def rename_period(timetable: Any, old: str, new: str) -> None:  # noqa: ANN401
    """Call a period otherwise, wherever it is named; its place in the file stays."""
    for times in timetable["hours"].values():
        if old in times:
            _rename(times, old, new)
    for row in _named_in(timetable):
        if row.get("period") == old:
            row["period"] = new
    for one in timetable.get("exceptions", ()):
        if old in one.get("cancel", ()):
            one["cancel"] = [new if name == old else name for name in one["cancel"]]


def drop_period(timetable: Any, period: str) -> None:  # noqa: ANN401
    """Take a period out, with the lessons in it."""
    for times in timetable["hours"].values():
        times.pop(period, None)
    for day in days_of(timetable):
        put(timetable, day, period, ("", ""))


def _named_in(timetable: Any) -> Iterator[Any]:  # noqa: ANN401
    yield from timetable.get("lessons", ())
    for one in timetable.get("exceptions", ()):
        yield from one.get("lessons", ())


def _rename(times: Any, old: str, new: str) -> None:  # noqa: ANN401
    kept = [(new if str(key) == old else str(key), times[key]) for key in list(times)]
    for key in list(times):
        del times[key]
    for key, value in kept:
        times.add(key, value)


def rename_days(timetable: Any, before: Sequence[str], after: Sequence[str]) -> None:  # noqa: ANN401
    """Let the lessons of each day be those of the day that stands in its place now."""
    now = dict(zip(before, after, strict=False))
    for row in timetable.get("lessons", ()):
        held = [now.get(_known(day, before), day) for day in _days_in(row)]
        if held != _days_in(row):
            row["day"] = held[0] if len(held) == 1 else held


def begin_timetable(
    document: tomlkit.TOMLDocument, year: tuple[date, date], rotation: Sequence[str], spans: Sequence[str]
) -> Any:  # noqa: ANN401
    """Put a timetable into the file: a year, its days, and a period for each time; return it."""
    timetable = tomlkit.table()
    timetable.add("begins", year[0])
    timetable.add("ends", year[1])
    if rotation:
        timetable.add("rotation", list(rotation))
    hours, usual = tomlkit.table(), tomlkit.table()
    for number, span in enumerate(spans, start=1):
        usual.add(str(number), span)
    hours.add(USUAL, usual)
    timetable.add("hours", hours)
    document.add("timetable", timetable)
    return document["timetable"]
