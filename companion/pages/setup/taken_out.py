"""The row that was taken out of the settings last, on a page of the set-up, and the way back.

It is kept beside what is typed there, so that a closed window and a new start leave the way open; a settings
file that was changed since closes it.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import tomlkit

from companion.language import _
from companion.log.drafts import Draft, Drafts

FORM = "day/taken-out"
NAMED_BY = ("name", "say", "press", "class_group", "date")
"""The fields that tell a row from its like."""


@dataclass(frozen=True, slots=True)
class TakenOut:
    """A row that was taken out of the settings file."""

    place: str
    """As in `plans.0.phases.2`; empty for what is more than a row."""
    label: str
    """What the row is called; of more than a row what that is, in English."""
    step: str
    """The key of the step on whose page it was."""
    before: str
    """The whole file with the row."""

    @property
    def called(self) -> str:
        """What was taken out, in words."""
        return self.label if self.place else _(self.label)


def remember(drafts: Drafts, out: TakenOut, version: str) -> None:
    """Keep what was taken out; version: that of the file without the row."""
    drafts.keep(FORM, "file", Draft(out.before, version))
    drafts.keep(FORM, "row", Draft(out.place, out.label))
    drafts.keep(FORM, "step", Draft(out.step, ""))


def remembered(drafts: Drafts, version: str) -> TakenOut | None:
    """Return what can be put back into the settings file of that version; None if nothing."""
    kept = drafts.all().get(FORM, {})
    if not {"file", "row", "step"} <= kept.keys() or kept["file"].base != version:
        return None
    return TakenOut(kept["row"].value, kept["row"].base, kept["step"].value, kept["file"].value)


def moved_down(said: Mapping[str, str], place: str) -> dict[str, str]:
    """Return the fields of a form without the row at `place` under the names that they have with it."""
    above, _, index = place.rpartition(".")
    return {_moved(name, f"{above}.", int(index)): value for name, value in said.items()}


def _moved(name: str, above: str, index: int) -> str:
    at, dot, rest = name.removeprefix(above).partition(".")
    if not name.startswith(above) or not at.isdecimal() or int(at) < index:
        return name
    return f"{above}{int(at) + 1}{dot}{rest}"


def label_of(text: str, place: str) -> str:
    """Return what the row at `place` of a settings file is called: its name, or `phases 3`."""
    row: Any = tomlkit.parse(text).unwrap()
    *above, index = place.split(".")
    for part in (*above, index):
        row = row[int(part)] if isinstance(row, list) else row[part]
    name = next((str(row[key]) for key in NAMED_BY if row.get(key)), "")
    return name or f"{above[-1].replace('_', ' ')} {int(index) + 1}"
