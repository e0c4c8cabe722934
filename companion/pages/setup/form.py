"""`companion.toml` as the fields of forms.

The fields come from the schema of the settings themselves, so that a new setting can be changed at once.
A field is named by its place in the file: `plans.0.phases.1.minutes`.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from companion.errors import CompanionError
from companion.language import _
from companion.settings.settings import Settings

Schema = Mapping[str, Any]
Place = tuple[str | int, ...]

DAY_TO_DAY = " to "
LEVEL = " / "
YES, NO = "yes", "no"


@dataclass(frozen=True, slots=True)
class Field:
    """One input of a form."""

    place: str
    kind: str
    """`text`, `number`, `date`, `choice`, `yes`, `list`, `days` or `pairs`; the last three are lines."""
    value: str
    needed: bool = False


def fields_in(values: Mapping[str, Any]) -> Iterator[Field]:
    """Yield a field for everything that the settings `values`, as TOML gives them, have or could have."""
    return _of_table((), _SCHEMA, values)


def _of_table(place: Place, schema: Schema, values: Any) -> Iterator[Field]:  # noqa: ANN401 - a value of TOML
    held = values if isinstance(values, Mapping) else {}
    for key, part in _properties(schema):
        if not place and key == "timetable" and key not in held:
            continue
        needed = key in _resolved(schema).get("required", ())
        yield from _of_part((*place, key), part, held.get(key, part.get("default")), needed=needed)


def _of_part(place: Place, schema: Schema, value: Any, *, needed: bool) -> Iterator[Field]:  # noqa: ANN401
    match _shape(schema):
        case "table":
            yield from _of_table(place, _resolved(schema), value)
        case "rows":
            for index, row in enumerate(value if isinstance(value, list) else ()):
                yield from _of_table((*place, index), _items(schema), row)
        case shape:
            yield Field(".".join(map(str, place)), shape, _shown(shape, value), needed)


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
        case {"type": "boolean"}:
            return "yes"
    return "text"


def _shown(shape: str, value: Any) -> str:  # noqa: ANN401 - a value of TOML
    match shape, value:
        case "list" | "days", list() | tuple():
            return "\n".join(map(_line, value))
        case "pairs", Mapping():
            return "\n".join(f"{LEVEL.join(keys)} = {said}" for keys, said in leaves(value))
        case "yes", bool():
            return YES if value else NO
    return "" if value is None else str(value)


def _line(value: Any) -> str:  # noqa: ANN401 - a value of TOML
    match value:
        case {"from": first, "to": last}:
            return f"{first}{DAY_TO_DAY}{last}"
    return str(value)


def leaves(values: Mapping[str, Any], above: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], str]]:
    """Yield the values of tables within tables, each with the keys that lead to it."""
    for key, value in values.items():
        if isinstance(value, dict):
            yield from leaves(value, (*above, key))
        else:
            yield (*above, key), str(value)


def rows_in(values: Any, *path: str) -> list[Mapping[str, Any]]:  # noqa: ANN401 - a value of TOML
    """Return the tables at `path`; what is no table, in a file that is not valid, is left out."""
    for key in path:
        values = values.get(key) if isinstance(values, Mapping) else None
    return [row for row in values if isinstance(row, Mapping)] if isinstance(values, list) else []


def lines(said: str) -> list[str]:
    """Return the lines of a field that hold something."""
    return [line.strip() for line in said.splitlines() if line.strip()]


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
        raise CompanionError(_("This page has no such rows."), remedy=_("Load it again."))
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
    return _("new {number}", number=count + 1)
