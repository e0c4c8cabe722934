"""`companion.toml` as the fields of a form.

The fields come from the schema of the settings themselves, so that a new setting has a field at once.
A field is named by its place in the file: `plans.0.phases.1.minutes`.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from companion.errors import CompanionError
from companion.settings.settings import Settings

Schema = Mapping[str, Any]
Place = tuple[str | int, ...]

HIDDEN = frozenset({"session"})
"""Only in the plan of a sample session."""
DAY_TO_DAY = " to "
LEVEL = " / "


@dataclass(frozen=True, slots=True)
class Field:
    """One input of the form."""

    place: str
    label: str
    kind: str
    """`text`, `number`, `date`, `choice`, `list`, `days` or `pairs`; the last three are lines."""
    value: str
    choices: tuple[str, ...] = ()
    needed: bool = False


@dataclass(frozen=True, slots=True)
class Group:
    """A table of the file, or one row of several."""

    place: str
    label: str
    parts: "tuple[Field | Group | Rows, ...]"


@dataclass(frozen=True, slots=True)
class Rows:
    """Several tables of one kind, as many as the teacher likes."""

    place: str
    label: str
    rows: tuple[Group, ...]


def form_of(values: Mapping[str, Any]) -> Group:
    """Return the whole form for the settings `values`, as TOML gives them."""
    return _group((), "", _SCHEMA, values)


def _group(place: Place, label: str, schema: Schema, values: Mapping[str, Any]) -> Group:
    parts = [
        _part(
            (*place, key), key, part, values.get(key, part.get("default")), key in schema.get("required", ())
        )
        for key, part in _properties(schema)
        if not (not place and (key in HIDDEN or (key == "timetable" and key not in values)))
    ]
    return Group(_name(place), label, tuple(parts))


def _part(place: Place, key: str, schema: Schema, value: Any, needed: bool) -> "Field | Group | Rows":  # noqa: ANN401 - a value of TOML
    shape, label = _shape(schema), key.replace("_", " ")
    if shape == "table":
        return _group(place, label, _resolved(schema), value or {})
    if shape == "rows":
        rows = tuple(
            _group((*place, index), f"{label} {index + 1}", _items(schema), row)
            for index, row in enumerate(value or ())
        )
        return Rows(_name(place), label, rows)
    return Field(_name(place), label, shape, _shown(shape, value), _choices(schema), needed)


def _shape(schema: Schema) -> str:  # noqa: PLR0911 - one case a kind
    """Return the kind of a field, or `table` or `rows` for what is more than one field."""
    if listed := _list_of(schema):
        items = _resolved(listed["items"])
        return "rows" if "properties" in items else "days" if "anyOf" in items else "list"
    match _resolved(schema):
        case {"properties": _}:
            return "table"
        case {"additionalProperties": _}:
            return "pairs"
        case {"enum": _}:
            return "choice"
        case {"format": "date"}:
            return "date"
        case {"type": "number" | "integer"}:
            return "number"
    return "text"


def _shown(shape: str, value: Any) -> str:  # noqa: ANN401 - a value of TOML
    match shape:
        case "list":
            return "\n".join([value] if isinstance(value, str) else map(str, value or ()))
        case "days":
            return "\n".join(
                f"{day['from']}{DAY_TO_DAY}{day['to']}" if isinstance(day, dict) else str(day)
                for day in value or ()
            )
        case "pairs":
            return "\n".join(f"{LEVEL.join(keys)} = {said}" for keys, said in leaves(value or {}))
    return "" if value is None else str(value)


def leaves(values: Mapping[str, Any], above: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], str]]:
    """Yield the values of tables within tables, each with the keys that lead to it."""
    for key, value in values.items():
        if isinstance(value, dict):
            yield from leaves(value, (*above, key))
        else:
            yield (*above, key), str(value)


def fields_of(part: "Field | Group | Rows") -> Iterator[Field]:
    """Yield every field of a part of the form."""
    match part:
        case Field():
            yield part
        case Group(parts=parts) | Rows(rows=parts):
            for each in parts:
                yield from fields_of(each)


def lines(said: str) -> list[str]:
    """Return the lines of a field that hold something."""
    return [line.strip() for line in said.splitlines() if line.strip()]


def _name(place: Place) -> str:
    return ".".join(map(str, place))


_SCHEMA: Schema = Settings.model_json_schema(by_alias=True)


def _properties(schema: Schema) -> Iterator[tuple[str, Schema]]:
    yield from _resolved(schema).get("properties", {}).items()


def _resolved(schema: Schema) -> Schema:
    """Return `schema` without references and without the choice of being absent."""
    if "$ref" in schema:
        found: Schema = _SCHEMA["$defs"][schema["$ref"].rsplit("/", 1)[1]]
        return _resolved(found)
    present = [option for option in schema.get("anyOf", ()) if option.get("type") != "null"]
    return _resolved(present[0]) if len(present) == 1 else schema


def _list_of(schema: Schema) -> Schema | None:
    """Return the schema of a list, also where one value may stand for a list of one; else None."""
    plain = _resolved(schema)
    options = [plain, *plain.get("anyOf", ())]
    return next((o for o in options if o.get("type") == "array" and "items" in o), None)


def _items(schema: Schema) -> Schema:
    listed = _list_of(schema)
    assert listed is not None
    return _resolved(listed["items"])


def _choices(schema: Schema) -> tuple[str, ...]:
    listed = _list_of(schema)
    return tuple(_resolved(listed["items"] if listed else schema).get("enum", ()))


def example_row(place: str, count: int) -> dict[str, Any]:
    """Return what a new row of the rows at `place`, which has `count` already, needs to be valid.

    Raises CompanionError if there are no such rows.
    """
    schema: Schema = _SCHEMA
    for part in place.split("."):
        listed = _list_of(schema)
        inside = dict(_properties(schema)).get(part, {})
        schema = listed["items"] if listed and part.isdecimal() else inside
    rows = _list_of(schema)
    if rows is None or _shape(schema) != "rows":
        raise CompanionError("This page has no such rows.", remedy="Load it again.")
    needed = _resolved(rows["items"]).get("required", ())
    return {key: _example(part, count) for key, part in _properties(rows["items"]) if key in needed}


def _example(schema: Schema, count: int) -> Any:  # noqa: ANN401 - a value of TOML
    """Return something valid to begin a new row with, different from what `count` rows have."""
    match _shape(schema):
        case "choice":
            return _choices(schema)[0]
        case "number":
            return 1 if "exclusiveMinimum" in _resolved(schema) else -count - 1
        case "date":
            return date(2000, 1, 1)
        case "list":
            return []
    return f"new {count + 1}"
