"""A filled-in form as changes to `companion.toml`: only what was changed is written, comments stay."""

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from typing import Any

import tomlkit
from tomlkit.items import AoT, Array, Table

from companion.language import _
from companion.pages.setup.form import (
    DAY_TO_DAY,
    LEVEL,
    YES,
    Field,
    example_row,
    fields_in,
    leaves,
    lines,
)
from companion.settings.file import NotValidError
from companion.settings.problem import Problem


def fill_in(document: tomlkit.TOMLDocument, form: Mapping[str, str]) -> None:
    """Write what a form changes into `document`; comments and everything else stay.

    Raises NotValidError for values that can't be read.
    """
    unread = []
    for field in fields_in(document.unwrap()):
        said = form.get(field.place)
        if said is not None and lines(said) != lines(field.value):
            try:
                _write(document, field, said.strip())
            except ValueError as error:
                unread.append(Problem(_at_place(field.place), str(error)))
    if unread:
        raise NotValidError(tuple(unread))


def add_row(document: tomlkit.TOMLDocument, place: str) -> None:
    """Add an empty table to the tables at `place`; its needed fields are filled with something to change."""
    *above, name = place.split(".")
    holder = _at(document, above)
    row = tomlkit.table()
    row.update(example_row(place, len(holder.get(name, ()))) | _fitting(document.unwrap(), place))
    tables = holder.get(name)
    if isinstance(tables, AoT):
        tables.append(row)
        return
    rows = [*(tables or ()), row]
    if name in holder:
        del holder[name]
    holder.add(name, tomlkit.aot())
    for each in rows:
        holder[name].append(each)


def _fitting(values: Mapping[str, Any], place: str) -> dict[str, Any]:
    """Return what a new row at `place` must have to fit to the rest of the file."""
    match place:
        case "plans":
            return {"phases": [{"name": _("new phase"), "minutes": 10}]}
        case "keys":
            taken = {key["press"] for key in values.get("keys", ())}
            free = (f"ctrl+shift+f{number}" for number in range(1, 13))
            return {"press": next((press for press in free if press not in taken), "f9")}
        case "timetable.exceptions":
            timetable = values["timetable"]
            return {"date": timetable["begins"] + timedelta(days=len(timetable.get("exceptions", ())))}
    return {}


def drop_row(document: tomlkit.TOMLDocument, place: str) -> None:
    """Take the table at `place`, such as `plans.0.phases.2`, out of the file."""
    *above, index = place.split(".")
    del _at(document, above)[int(index)]


def move_row(document: tomlkit.TOMLDocument, place: str) -> None:
    """Let the table at `place` change places with the one before it."""
    *above, index = place.split(".")
    tables, at = _at(document, above), int(index)
    if at > 0:
        upper, lower = tables[at - 1], tables[at]
        tables[at - 1], tables[at] = lower, upper


def _write(document: tomlkit.TOMLDocument, field: Field, said: str) -> None:
    *above, key = field.place.split(".")
    holder = _at(document, above)
    if not said and field.kind not in ("list", "days") and not field.needed:
        if key in holder:
            del holder[key]
        return
    match field.kind:
        case "number":
            holder[key] = _number(said)
        case "date":
            holder[key] = _day(said)
        case "yes":
            holder[key] = said == YES
        case "list":
            holder[key] = _array(lines(said))
        case "days":
            holder[key] = _array([_days(line) for line in lines(said)])
        case "pairs":
            _write_pairs(holder.setdefault(key, tomlkit.table()), said)
        case _:
            holder[key] = said


def _write_pairs(table: Table, said: str) -> None:
    wanted = {}
    for line in lines(said):
        keys, equals, value = line.partition("=")
        if not equals:
            msg = _("'{line}' can't be read; write it as in: name = value", line=line)
            raise ValueError(msg)
        wanted[tuple(part.strip() for part in keys.split(LEVEL.strip()))] = value.strip()
    present = dict(leaves(table.unwrap()))
    for place in present.keys() - wanted.keys():
        del _at(table, place[:-1])[place[-1]]
    for place, value in wanted.items():
        if present.get(place) != value:
            holder = table
            for part in place[:-1]:
                holder = holder.setdefault(part, tomlkit.table())
            holder[place[-1]] = value


def _array(values: list[Any]) -> Array:
    array = tomlkit.array()
    array.extend(values)
    return array


def _number(said: str) -> int | float:
    try:
        number = float(said.replace(",", "."))
    except ValueError as error:
        msg = _("'{said}' is no number; write one, as in 5", said=said)
        raise ValueError(msg) from error
    return int(number) if number.is_integer() else number


def _day(said: str) -> date:
    try:
        return date.fromisoformat(said)
    except ValueError as error:
        msg = _("'{said}' is no day; write year, month and day, as in 2026-09-01", said=said)
        raise ValueError(msg) from error


def _days(line: str) -> Any:  # noqa: ANN401 - a value of TOML
    first, to, last = line.partition(DAY_TO_DAY)
    if not to:
        return _day(first.strip())
    span = tomlkit.inline_table()
    span.update({"from": _day(first.strip()), "to": _day(last.strip())})
    return span


def _at_place(place: str) -> tuple[str | int, ...]:
    return tuple(int(part) if part.isdecimal() else part for part in place.split("."))


def _at(holder: Any, place: Sequence[str]) -> Any:  # noqa: ANN401 - containers of tomlkit
    """Return the container at `place`; tables on the way that are not there yet are made."""
    for part in place:
        if isinstance(holder, AoT | list):
            holder = holder[int(part)]
            continue
        if part not in holder:
            holder.add(part, tomlkit.table())
        holder = holder[part]
    return holder
