"""The week as a grid: which class comes when, with which plan, at which times."""

import re
from collections.abc import Iterator, Mapping
from datetime import date, datetime, timedelta
from typing import Any

import tomlkit

from companion.errors import CompanionError
from companion.language import _, later
from companion.lesson import day_words
from companion.lesson.timetable import USUAL, WEEKDAYS
from companion.pages.desk import Desk
from companion.pages.setup.changes import fill_in
from companion.pages.setup.form import rows_in
from companion.pages.setup.page import StepPart, rows_only
from companion.pages.setup.pasted import pasted_week
from companion.pages.setup.week_file import (
    begin_timetable,
    cells_of,
    days_of,
    drop_period,
    periods_of,
    put,
    rename_days,
    rename_period,
    variants_of,
)
from companion.settings.file import NotValidError
from companion.settings.problem import Problem

DAY_NAMES = dict(zip(WEEKDAYS, day_words.WEEKDAYS, strict=True))
LETTERS = "ABCDEFGHIJ"
EARLY = later("early release")
"""What a second set of times is called at first."""
LAY = {
    "lay.days": "weekdays",
    "lay.turn": "6",
    "lay.first": "08:30",
    "lay.minutes": "45",
    "lay.pause": "5",
    "lay.count": "7",
}
"""How a week is laid out at first, if nothing else is said."""
CHECK = later("Look whether each class is at its place.")
MOST_PERIODS, SUMMER = 14, 7
"""A year that is begun until July ends in June of the same year."""
_TIME = re.compile(r"\s*(\d{1,2}):(\d{2})\s*[-–]\s*(\d{1,2}):(\d{2})\s*")


def _own(desk: Desk, values: Mapping[str, Any]) -> dict[str, str]:
    timetable = values.get("timetable")
    if not isinstance(timetable, Mapping):
        first = desk.clock().date()
        last = date(first.year + (first.month >= SUMMER), 6, 30)
        return LAY | {"lay.begins": first.isoformat(), "lay.ends": last.isoformat()}
    return dict((*_cells(timetable), *_times(timetable), *_grade_plans(timetable)))


def _cells(timetable: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    held = cells_of(timetable)
    for d, day in enumerate(days_of(timetable)):
        for p, period in enumerate(periods_of(timetable)):
            yield f"cell.{d}.{p}", held.get((day, period), ("", ""))[0]
            yield f"plan.{d}.{p}", held.get((day, period), ("", ""))[1]


def _times(timetable: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    for p, period in enumerate(periods_of(timetable)):
        yield f"period.{p}.name", period
        for v, variant in enumerate(variants_of(timetable)):
            found = _TIME.fullmatch(str(timetable.get("hours", {}).get(variant, {}).get(period, "")))
            yield f"period.{p}.{v}.from", f"{int(found[1]):02}:{found[2]}" if found else ""
            yield f"period.{p}.{v}.to", f"{int(found[3]):02}:{found[4]}" if found else ""
    for v, variant in enumerate(variants_of(timetable)[1:], start=1):
        yield f"variant.{v}", variant
    weekly = {str(day).lower()[:3]: name for day, name in timetable.get("weekly_hours", {}).items()}
    for day in WEEKDAYS:
        yield f"weekly.{day}", str(weekly.get(day, USUAL))


def grade_of(class_group: str) -> str:
    """Return what a class group's name begins with: the 4 of `4-Hazel`."""
    return re.split(r"[-\s]", class_group.strip(), maxsplit=1)[0]


def _grades(timetable: Mapping[str, Any]) -> dict[str, set[str]]:
    """Return the plans of each grade of the week."""
    found: dict[str, set[str]] = {}
    for class_group, plan in cells_of(timetable).values():
        found.setdefault(grade_of(class_group), set()).add(plan)
    return dict(sorted(found.items()))


def _grade_plans(timetable: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    for index, plans in enumerate(_grades(timetable).values()):
        yield f"grade.{index}", next(iter(plans)) if len(plans) == 1 else MIXED


MIXED = "mixed"


def _fill(document: tomlkit.TOMLDocument, said: Mapping[str, str]) -> str:
    if "timetable" not in document:
        return ""
    before = days_of(document["timetable"].unwrap())
    fill_in(document, said)
    timetable: Any = document["timetable"]
    if days_of(timetable.unwrap()) != before:
        rename_days(timetable, before, days_of(timetable.unwrap()))
    _fill_cells(timetable, said)
    _fill_grades(timetable, said)
    _fill_hours(timetable, said)
    return ""


def _fill_cells(timetable: Any, said: Mapping[str, str]) -> None:  # noqa: ANN401 - of tomlkit
    held = cells_of(timetable)
    for d, day in enumerate(days_of(timetable)):
        for p, period in enumerate(periods_of(timetable)):
            class_group = said.get(f"cell.{d}.{p}")
            if class_group is None:
                continue
            before = held.get((day, period), ("", ""))
            wanted = " ".join(class_group.split()), said.get(f"plan.{d}.{p}", before[1])
            if wanted != before and (wanted[0] or before[0]):
                put(timetable, day, period, wanted)


def _fill_grades(timetable: Any, said: Mapping[str, str]) -> None:  # noqa: ANN401
    """Give all lessons of a grade the plan that was chosen for it, where that was changed."""
    for index, (grade, plans) in enumerate(_grades(timetable).items()):
        wanted = said.get(f"grade.{index}", MIXED)
        name = said.get(f"grade.{index}.of", grade)
        if wanted == MIXED or name != grade or plans == {wanted}:
            continue
        for (day, period), (class_group, plan) in cells_of(timetable).items():
            if grade_of(class_group) == grade and plan != wanted:
                put(timetable, day, period, (class_group, wanted))


def _fill_hours(timetable: Any, said: Mapping[str, str]) -> None:  # noqa: ANN401
    periods, variants, before = periods_of(timetable), variants_of(timetable), dict(_times(timetable))
    halves = []
    for p, period in enumerate(periods):
        for v, variant in enumerate(variants):
            begin, end = (said.get(f"period.{p}.{v}.{side}") for side in ("from", "to"))
            if begin is None or end is None:
                continue
            if (begin, end) == (before[f"period.{p}.{v}.from"], before[f"period.{p}.{v}.to"]):
                continue
            times = timetable["hours"][variant]
            if bool(begin) != bool(end):
                halves.append(
                    Problem(
                        ("period", p, v, "to" if begin else "from"),
                        _("a time is missing; write both, or none"),
                    )
                )
            elif begin:
                times[period] = f"{begin}-{end}"
            else:
                times.pop(period, None)
    if halves:
        raise NotValidError(tuple(halves))
    _fill_names(timetable, said, periods, variants)


def _fill_names(timetable: Any, said: Mapping[str, str], periods: list[str], variants: list[str]) -> None:  # noqa: ANN401
    """Call sets of times and periods otherwise, and say on which weekdays which set holds."""
    weekly = {day: said[f"weekly.{day}"] for day in WEEKDAYS if f"weekly.{day}" in said}
    for v, variant in enumerate(variants):
        name = said.get(f"variant.{v}", "").strip()
        if v and name and name != variant:
            timetable["hours"][name] = timetable["hours"].pop(variant)
            weekly = {day: name if one == variant else one for day, one in weekly.items()}
            for one in timetable.get("exceptions", ()):
                if one.get("hours") == variant:
                    one["hours"] = name
    if weekly:
        wanted = {day: name for day, name in weekly.items() if name != USUAL}
        if wanted != {str(day).lower()[:3]: name for day, name in timetable.get("weekly_hours", {}).items()}:
            timetable["weekly_hours"] = wanted
    for p, period in enumerate(periods):
        name = said.get(f"period.{p}.name", "").strip()
        if name and name != period:
            rename_period(timetable, period, name)


def _rearrange(document: tomlkit.TOMLDocument, do: str, place: str, said: Mapping[str, str]) -> str:
    timetable: Any = document.get("timetable")
    match do:
        case "lay" if timetable is None:
            return _lay(document, said)
        case "paste" if timetable is not None:
            return _paste(timetable, said.get("pasted", ""))
        case "period" if timetable is not None:
            periods = periods_of(timetable)
            name = next(str(number) for number in range(1, 99) if str(number) not in periods)
            timetable["hours"][USUAL][name] = _following(timetable, periods)
        case "no-period" if timetable is not None:
            drop_period(timetable, periods_of(timetable)[int(place)])
        case "variant" if timetable is not None:
            name = _(EARLY)
            if name in timetable["hours"]:
                name = _("times {number}", number=len(timetable["hours"]) + 1)
            copy = tomlkit.table()
            copy.update(timetable["hours"][USUAL].unwrap())
            timetable["hours"].add(name, copy)
        case "no-variant" if timetable is not None:
            _drop_variant(timetable, variants_of(timetable)[int(place)])
        case "no-timetable":
            del document["timetable"]
            return _("There is no timetable any more: lessons are opened by hand.")
        case _:
            return rows_only(document, do, place, said)
    return ""


def _drop_variant(timetable: Any, variant: str) -> None:  # noqa: ANN401
    del timetable["hours"][variant]
    weekly = timetable.get("weekly_hours", {})
    for day in [day for day, name in weekly.items() if name == variant]:
        del weekly[day]
    for one in timetable.get("exceptions", ()):
        if one.get("hours") == variant:
            del one["hours"]


def _following(timetable: Mapping[str, Any], periods: list[str]) -> str:
    """Return the time of a period after the last one, as long as that is."""
    found = _TIME.fullmatch(str(timetable["hours"][USUAL].get(periods[-1], ""))) if periods else None
    if not found:
        return "08:30-09:15"
    begin, end = (datetime(2000, 1, 1, int(found[n]), int(found[n + 1])) for n in (1, 3))  # noqa: DTZ001
    begins = end + timedelta(minutes=5)
    return f"{begins:%H:%M}-{begins + (end - begin):%H:%M}"


def _lay(document: tomlkit.TOMLDocument, said: Mapping[str, str]) -> str:
    year = _date(said, "lay.begins"), _date(said, "lay.ends")
    turn = _whole(said, "lay.turn", 2, len(LETTERS))
    rotation = list(LETTERS[:turn]) if said.get("lay.days") == "rotation" else []
    pasted = said.get("pasted", "").strip()
    rows = _pasted(pasted, rotation or list(WEEKDAYS[:5])) if pasted else []
    spans = [row.span for row in rows]
    if not spans or not all(spans):
        spans = list(_spans(said))
        if len(rows) > len(spans):
            spans += [""] * (len(rows) - len(spans))
    timetable = begin_timetable(document, year, rotation, spans)
    for day, column in zip(days_of(timetable), zip(*(row.cells for row in rows), strict=True), strict=False):
        for number, class_group in enumerate(column, start=1):
            put(timetable, day, str(number), (class_group, ""))
    return _(CHECK) if rows else _("Now say which class comes when.")


def _spans(said: Mapping[str, str]) -> Iterator[str]:
    at = _time(said, "lay.first")
    minutes, pause = _whole(said, "lay.minutes", 5, 300), _whole(said, "lay.pause", 0, 120)
    for _period in range(_whole(said, "lay.count", 1, MOST_PERIODS)):
        end = at + timedelta(minutes=minutes)
        yield f"{at:%H:%M}-{end:%H:%M}"
        at = end + timedelta(minutes=pause)


def _paste(timetable: Any, text: str) -> str:  # noqa: ANN401
    days, periods = days_of(timetable), periods_of(timetable)
    rows = _pasted(text, days)
    if len(rows) > len(periods):
        raise NotValidError(
            (
                Problem(
                    ("pasted",),
                    _(
                        "it has {lines} lines, and the week {periods} periods; add periods",
                        lines=len(rows),
                        periods=len(periods),
                    ),
                ),
            )
        )
    for period, row in zip(periods, rows, strict=False):
        for day, class_group in zip(days, row.cells, strict=True):
            before = cells_of(timetable).get((day, period), ("", ""))
            if class_group and class_group != before[0]:
                put(timetable, day, period, (class_group, before[1]))
    return _(CHECK)


def _pasted(text: str, days: list[str]) -> Any:  # noqa: ANN401
    try:
        return pasted_week(text, days)
    except ValueError as error:
        raise NotValidError((Problem(("pasted",), str(error)),)) from error


def _date(said: Mapping[str, str], name: str) -> date:
    try:
        return date.fromisoformat(said.get(name, ""))
    except ValueError as error:
        raise _unread(name, _("write a day, as in 2026-09-01")) from error


def _time(said: Mapping[str, str], name: str) -> datetime:
    try:
        return datetime.strptime(said.get(name, ""), "%H:%M")  # noqa: DTZ007 - a time of the day
    except ValueError as error:
        raise _unread(name, _("write a time, as in 08:30")) from error


def _whole(said: Mapping[str, str], name: str, least: int, most: int) -> int:
    text = said.get(name, "").strip()
    if not text.isdecimal() or not least <= int(text) <= most:
        raise _unread(name, _("write a number from {least} to {most}", least=least, most=most))
    return int(text)


def _unread(name: str, words: str) -> CompanionError:
    return NotValidError((Problem(tuple(name.split(".")), words),))


def _day_name(day: str) -> str:
    """Return a day of the week, or of a rotation, as it is called."""
    return _(DAY_NAMES[day]) if day in DAY_NAMES else day


def _more(desk: Desk, values: Mapping[str, Any], said: Mapping[str, str]) -> dict[str, Any]:  # noqa: ARG001
    timetable = values.get("timetable")
    plans = [str(plan.get("name", "")) for plan in rows_in(values, "plans")]
    usual = [("", _("usual: {plan}", plan=plans[0]) if plans else _("usual"))]
    if not isinstance(timetable, Mapping):
        return {"week": None}
    variants = variants_of(timetable)
    called = {name: _(name) if name == USUAL else name for name in variants}
    with desk.log() as log:
        known = {*log.class_groups(), *(name for name, _ in cells_of(timetable).values())}
    return {
        "week": timetable,
        "days": [(day, _day_name(day)) for day in days_of(timetable)],
        "periods": periods_of(timetable),
        "variants": variants,
        "variant_choices": list(called.items()),
        "variant_names": called,
        "weekdays": [(day, _day_name(day)) for day in WEEKDAYS if day in timetable.get("week", WEEKDAYS[:5])],
        "day_choices": [("", _("its own day")), *((day, _day_name(day)) for day in days_of(timetable))],
        "plan_choices": [*usual, *((name, name) for name in plans[1:])],
        "grades": list(_grades(timetable)),
        "class_groups": sorted(known),
        "exceptions": rows_in(timetable, "exceptions"),
    }


WEEK = StepPart(
    holds=("timetable",),
    own=_own,
    fill=_fill,
    rearrange=_rearrange,
    takes_out={
        "no-timetable": later("the whole week"),
        "no-period": later("a period with its lessons"),
        "no-variant": later("a set of times"),
    },
    more=_more,
)
