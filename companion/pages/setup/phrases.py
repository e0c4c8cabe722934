"""What is said and what happens then: the phrases of the settings in plain words."""

from collections.abc import Mapping
from typing import Any

import tomlkit

from companion.pages.desk import Desk
from companion.pages.setup.changes import fill_in
from companion.pages.setup.form import rows_in
from companion.pages.setup.means import mean, meaning_of, spoken_choices
from companion.pages.setup.page import StepPart
from companion.pages.setup.verdicts import verdicts


def phases_in(values: Mapping[str, Any]) -> list[str]:
    """Return the names of the phases of all plans, each once."""
    phases = (phase for plan in rows_in(values, "plans") for phase in rows_in(plan, "phases"))
    return list(dict.fromkeys(str(phase.get("name", "")) for phase in phases))


def _own(desk: Desk, values: Mapping[str, Any]) -> dict[str, str]:  # noqa: ARG001
    return {f"phrases.{index}.means": meaning_of(row) for index, row in enumerate(rows_in(values, "phrases"))}


def fill_meanings(document: tomlkit.TOMLDocument, said: Mapping[str, str], name: str) -> None:
    """Write what each row of the tables `name` does, where the form says something else."""
    for index, row in enumerate(document.get(name, ())):
        meaning = said.get(f"{name}.{index}.means")
        if meaning and meaning != meaning_of(row):
            mean(row, meaning)


def _fill(document: tomlkit.TOMLDocument, said: Mapping[str, str]) -> str:
    fill_in(document, said)
    fill_meanings(document, said, "phrases")
    return ""


def _more(desk: Desk, values: Mapping[str, Any], said: Mapping[str, str]) -> dict[str, Any]:
    rows = range(len(rows_in(values, "phrases")))
    looked = bool(said.get("do") == "look")
    says = [said.get(f"phrases.{row}.say", "") for row in rows] if looked else []
    return {
        "rows": rows,
        "choices": spoken_choices(phases_in(values)),
        "cue": values.get("listening", {}).get("cue", ""),
        "verdicts": verdicts(desk, values, phrases=[say for say in says if say]) if looked else {},
    }


PHRASES = StepPart(holds=("phrases",), own=_own, fill=_fill, more=_more)
