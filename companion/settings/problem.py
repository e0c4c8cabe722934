"""What is wrong in a settings file, in words that say where it stands and what to write there."""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from companion.language import _, later

_BRANCH = re.compile(r"\w+Section|constrained-str|str-enum\[.*\]|tuple\[.*\]")
"""What the checker calls the ways in which a value may be written; no place in the file."""

_SEVERAL_WAYS = {
    "no_school": later("write a day, as in {one}, or several, as in {several}"),
    "day": later("write a day in quotes, or several in brackets, as in {several}"),
    "advance": later("write {one}, {other} or, for both, {several}"),
}
"""Values that may be written in more than one way, by the name of their key."""
_EXAMPLES = {
    "no_school": {"one": "2026-09-07", "several": "{ from = 2026-12-21, to = 2027-01-01 }"},
    "day": {"several": '["A", "D"]'},
    "advance": {"one": '"phrase"', "other": '"clock"', "several": '["clock", "phrase"]'},
}
_LIST = '["one", "two"]'

_WRITE = {
    "date": later("write a day without quotes, as in 2026-09-14"),
    "datetime": later("write a day and a time without quotes, as in 2026-09-14T09:10:00"),
    "bool": later("write true or false"),
    "int": later("write a whole number"),
    "float": later("write a number"),
    "tuple": later("write them in brackets, as in {list}"),
    "string_type": later("write it in quotes"),
    "string_too_short": later("it is empty; write something or take the key out"),
    "string_too_long": later("it is too long; write at most {max_length} letters"),
    "string_pattern_mismatch": later("write the language as in 'en' or 'es-mx'"),
    "enum": later("write one of {expected}"),
    "literal_error": later("write one of {expected}"),
    "greater_than_equal": later("write at least {ge}"),
    "greater_than": later("write more than {gt}"),
    "less_than_equal": later("write at most {le}"),
    "less_than": later("write less than {lt}"),
    "model": later("write it as a table with keys of its own"),
    "dict": later("write it as a table with keys of its own"),
}
"""What to write, by the checker's kind of error or the beginning of its name."""


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong."""

    at: tuple[str | int, ...]
    """Keys and numbers, counted from 0, that lead to it; () for the file as a whole."""
    words: str
    """What to do about it, or what is wrong and what to do."""
    value: str = ""
    """What stands there, shortened; empty where nothing does."""

    @property
    def place(self) -> str:
        """As in `plans.0.phases.1.minutes`."""
        return ".".join(map(str, self.at))

    @property
    def key(self) -> str:
        """As the file's user would count it: `plans[1].phases[2].minutes`."""
        return "".join(f"[{part + 1}]" if isinstance(part, int) else f".{part}" for part in self.at)[1:]


def each_problem(errors: Iterable[Mapping[str, Any]]) -> Iterator[Problem]:
    """Yield all problems, as pydantic tells them. Of a value that may be written in several ways each place
    is told once.
    """
    found = [(_place(error["loc"]), error) for error in errors]
    told = {
        place: error
        for place, error in found
        if _ways(error) is None or not any(place == other[: len(place)] != other for other, _ in found)
    }
    for place, error in told.items():
        value = "" if error["type"] in ("missing", "value_error") else _shown(error["input"])
        yield Problem(place, _words(error), value)


def problems(source: str, errors: Iterable[Mapping[str, Any]]) -> str:
    """Return all problems of the file `source`, each as `file: key = value: what to do`."""
    return "; ".join(_told(source, one) for one in each_problem(errors))


def _told(source: str, problem: Problem) -> str:
    if problem.value:
        return f"{source}: {problem.key} = {problem.value}: {problem.words}"
    return f"{source}: {problem.key}: {problem.words}" if problem.at else f"{source}: {problem.words}"


def _words(error: Mapping[str, Any]) -> str:
    words = str(error["msg"]).removeprefix("Value error, ")
    match error["type"]:
        case "missing":
            return _("this key is missing; add it")
        case "extra_forbidden":
            return _("this key is not known; correct its spelling or take it out")
        case "value_error":
            return words
        case kind:
            return (
                _ways(error)
                or _write(kind, error.get("ctx", {}))
                or _("{words}; change it", words=words[0].lower() + words[1:])
            )


def _ways(error: Mapping[str, Any]) -> str | None:
    """Return how a value may be written that has several ways, where none of them was met."""
    *place, last = error["loc"] or ("",)
    if not _is_branch(place, last):
        return None
    named = next(part for part in reversed(place) if isinstance(part, str))
    return _(_SEVERAL_WAYS[named], **_EXAMPLES[named]) if named in _SEVERAL_WAYS else None


def _write(kind: str, context: Mapping[str, Any]) -> str | None:
    for name in (kind, kind.split("_", maxsplit=1)[0]):
        if name in _WRITE:
            return _(_WRITE[name], **{"list": _LIST, **context})
    return None


def _is_branch(place: Iterable[str | int], part: str | int) -> bool:
    named = [name for name in place if isinstance(name, str)]
    in_days_off = named[-1:] == ["no_school"] and part == "date"
    return isinstance(part, str) and (in_days_off or _BRANCH.fullmatch(part) is not None)


def _place(location: tuple[str | int, ...]) -> tuple[str | int, ...]:
    return tuple(part for index, part in enumerate(location) if not _is_branch(location[:index], part))


def _shown(value: object) -> str:
    text = repr(value) if not isinstance(value, dict | list) else "…"
    return text if len(text) <= 60 else f"{text[:57]}…"
