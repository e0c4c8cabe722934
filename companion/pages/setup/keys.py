"""Clicker and keys: what each gesture does."""

from collections.abc import Mapping
from typing import Any

import tomlkit

from companion.language import _
from companion.lesson.command import Action
from companion.pages.desk import Desk
from companion.pages.exercises.pressed_button import PressedButton
from companion.pages.setup.changes import fill_in
from companion.pages.setup.form import rows_in
from companion.pages.setup.means import mean, meaning_of, pressed_choices
from companion.pages.setup.page import StepPart, rows_only
from companion.pages.setup.phrases import fill_meanings, phases_in
from companion.pages.setup.undisturbed import refuse_in_a_lesson
from companion.settings.file import append_table
from companion.settings.settings import load_settings


def _own(desk: Desk, values: Mapping[str, Any]) -> dict[str, str]:  # noqa: ARG001
    bound = {f"keys.{index}.means": meaning_of(row) for index, row in enumerate(rows_in(values, "keys"))}
    return bound | {"pressed.means": str(Action.PRAISE)}


def _fill(document: tomlkit.TOMLDocument, said: Mapping[str, str]) -> str:
    fill_in(document, said)
    fill_meanings(document, said, "keys")
    return ""


def _listen(desk: Desk, values: Mapping[str, Any], said: Mapping[str, str], place: str) -> None:  # noqa: ARG001
    refuse_in_a_lesson(desk)
    settings = load_settings(desk.home.settings)
    desk.exercises.begin(lambda: PressedButton(settings.bindings, settings.gestures.timings()))


def _quiet(desk: Desk, values: Mapping[str, Any], said: Mapping[str, str], place: str) -> None:  # noqa: ARG001
    desk.exercises.end("keys")


def _rearrange(document: tomlkit.TOMLDocument, do: str, place: str, said: Mapping[str, str]) -> str:
    if do != "take":
        return rows_only(document, do, place, said)
    row: dict[str, str] = {"press": said.get("pressed", "")}
    mean(row, said.get("pressed.means", ""))
    append_table(document, "keys", row)
    return _("{press} is bound.", press=row["press"])


def _more(desk: Desk, values: Mapping[str, Any], said: Mapping[str, str]) -> dict[str, Any]:  # noqa: ARG001
    tables = [str(table) for table in values.get("school", {}).get("tables", ())]
    rows, button = rows_in(values, "keys"), desk.exercises.of("keys")
    bound = {str(row.get("press")) for row in rows}
    return {
        "rows": range(len(rows)),
        "button": button,
        "bound": isinstance(button, PressedButton) and button.press in bound,
        "choices": pressed_choices(phases_in(values), tables),
    }


KEYS = StepPart(
    holds=("keys", "gestures"),
    own=_own,
    fill=_fill,
    rearrange=_rearrange,
    acts={"press": _listen, "quiet": _quiet},
    more=_more,
)
