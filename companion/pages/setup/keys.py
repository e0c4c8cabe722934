"""Clicker and keys: what each gesture does."""

from collections.abc import Mapping
from typing import Any

import tomlkit

from companion.pages.desk import Desk
from companion.pages.setup.changes import fill_in
from companion.pages.setup.form import rows_in
from companion.pages.setup.means import meaning_of, pressed_choices
from companion.pages.setup.page import Part
from companion.pages.setup.phrases import fill_meanings, phases_in


def _own(desk: Desk, values: Mapping[str, Any]) -> dict[str, str]:  # noqa: ARG001
    return {f"keys.{index}.means": meaning_of(row) for index, row in enumerate(rows_in(values, "keys"))}


def _fill(document: tomlkit.TOMLDocument, said: Mapping[str, str]) -> str:
    fill_in(document, said)
    fill_meanings(document, said, "keys")
    return ""


def _more(desk: Desk, values: Mapping[str, Any], said: Mapping[str, str]) -> dict[str, Any]:  # noqa: ARG001
    tables = [str(table) for table in values.get("school", {}).get("tables", ())]
    return {
        "rows": range(len(rows_in(values, "keys"))),
        "choices": pressed_choices(phases_in(values), tables),
    }


KEYS = Part(holds=("keys", "gestures"), own=_own, fill=_fill, more=_more)
