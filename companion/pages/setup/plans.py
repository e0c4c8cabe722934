"""Plans: phases with their minutes and routines, begun from a starter, with everything that names them."""

from collections.abc import Iterator, Mapping
from importlib.resources import files
from typing import Any

import tomlkit

from companion.errors import CompanionError
from companion.language import _, later
from companion.lesson.plan import Advance
from companion.pages.desk import Desk
from companion.pages.setup.changes import fill_in
from companion.pages.setup.form import rows_in
from companion.pages.setup.page import StepPart, rows_only

BOTH = "both"
MOVES = (
    (str(Advance.PHRASE), later("a phrase or a key")),
    (str(Advance.CLOCK), later("its minutes, or a key")),
    (BOTH, later("its minutes, a phrase or a key")),
)
"""What moves the lesson on from a phase, as a form's value and in words."""
PHASE_USERS = ("phrases", "keys")
"""Tables that name phases."""


def starters() -> tomlkit.TOMLDocument:
    """Return the plans to begin one's own from."""
    return tomlkit.parse(files("companion.settings").joinpath("plan_starters.toml").read_text("utf-8"))


def _phases(values: Mapping[str, Any]) -> Iterator[tuple[str, Any]]:
    """Yield each phase with its place."""
    for plan, row in enumerate(rows_in(values, "plans")):
        for index, phase in enumerate(rows_in(row, "phases")):
            yield f"plans.{plan}.phases.{index}", phase


def _own(desk: Desk, values: Mapping[str, Any]) -> dict[str, str]:  # noqa: ARG001
    return {f"{place}.moves": _moves(phase) for place, phase in _phases(values)}


def _moves(phase: Mapping[str, Any]) -> str:
    advance = phase.get("advance", str(Advance.PHRASE))
    if isinstance(advance, str):
        return advance
    return BOTH if len(set(advance)) > 1 else str(next(iter(advance), Advance.PHRASE))


def _fill(document: tomlkit.TOMLDocument, said: Mapping[str, str]) -> str:
    before = dict(_names(document.unwrap()))
    fill_in(document, said)
    for place, phase in _phases(document):
        moves = said.get(f"{place}.moves")
        if moves and moves != _moves(phase):
            phase["advance"] = [str(Advance.CLOCK), str(Advance.PHRASE)] if moves == BOTH else moves
    after = dict(_names(document.unwrap()))
    renamed = {name: after[place] for place, name in before.items() if after.get(place, name) != name}
    return _follow(document, renamed)


def _names(values: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Yield the name of each plan and each phase, by its place."""
    for index, plan in enumerate(rows_in(values, "plans")):
        yield f"plans.{index}", str(plan.get("name", ""))
    yield from ((place, str(phase.get("name", ""))) for place, phase in _phases(values))


def _rearrange(document: tomlkit.TOMLDocument, do: str, place: str, said: Mapping[str, str]) -> str:
    if do == "begin":
        return _begin(document, int(place), said)
    told = rows_only(document, do, place, said)
    return " ".join(filter(None, (told, _let_go(document)))) if do == "drop" else told


def _begin(document: tomlkit.TOMLDocument, starter: int, said: Mapping[str, str]) -> str:
    plan: Any = starters()["plans"][starter]
    taken = {str(one.get("name", "")).casefold() for one in rows_in(document, "plans")}
    wanted = said.get("new.name", "").strip() or str(plan["name"])
    if wanted.casefold() in taken:
        raise CompanionError(
            _("There is a plan called “{name}” already.", name=wanted),
            safe=_("Nothing was saved; what you typed is still here."),
            remedy=_("Give the new one another name."),
        )
    plan["name"] = wanted
    document["plans"].append(plan)
    return _("“{name}” is there; change it as you like.", name=wanted)


def _follow(document: tomlkit.TOMLDocument, renamed: Mapping[str, str]) -> str:
    """Let phrases, keys and the week go with plans and phases that were renamed."""
    kept = {name for _, name in _names(document.unwrap())}
    changed = 0
    for row, key in _users(document):
        new = renamed.get(str(row.get(key)))
        if new is not None and row[key] not in kept:
            row[key] = new
            changed += 1
    return _("Phrases, keys and lessons that name it go with the new name.") if changed else ""


def _let_go(document: tomlkit.TOMLDocument) -> str:
    """Take out phrases and keys that went to a phase that is gone, and the name of a plan that is gone."""
    kept = {name for _, name in _names(document.unwrap())}
    told = []
    for table in PHASE_USERS:
        rows = document.get(table, [])
        for index in reversed(range(len(rows))):
            if (phase := rows[index].get("phase")) is not None and phase not in kept:
                told.append(f"“{rows[index].get('say') or rows[index].get('press')}”")
                del rows[index]
    for row, key in _users(document):
        if key == "plan" and row.get("plan") not in kept:
            del row["plan"]
    return _("Taken out with it, since it went there: {phrases}.", phrases=", ".join(told)) if told else ""


def _users(document: tomlkit.TOMLDocument) -> Iterator[tuple[Any, str]]:
    """Yield every table that names a phase or a plan, with the key that does."""
    for table in PHASE_USERS:
        yield from ((row, "phase") for row in document.get(table, ()) if "phase" in row)
    timetable = document.get("timetable", {})
    extra = (row for one in timetable.get("exceptions", ()) for row in one.get("lessons", ()))
    yield from ((row, "plan") for row in (*timetable.get("lessons", ()), *extra) if "plan" in row)


def _more(desk: Desk, values: Mapping[str, Any], said: Mapping[str, str]) -> dict[str, Any]:  # noqa: ARG001
    return {
        "plans": [(f"plans.{index}", plan) for index, plan in enumerate(rows_in(values, "plans"))],
        "phases_of": lambda plan: list(enumerate(rows_in(plan, "phases"))),
        "moves": [(value, _(words)) for value, words in MOVES],
        "starters": [
            (index, str(plan["name"]), len(plan["phases"]), sum(phase["minutes"] for phase in plan["phases"]))
            for index, plan in enumerate(starters().unwrap()["plans"])
        ],
    }


PLANS = StepPart(holds=("plans",), own=_own, fill=_fill, rearrange=_rearrange, more=_more)
