"""The cue: one that was measured, or one of the teacher's own."""

from collections.abc import Mapping
from typing import Any

import tomlkit

from companion.listening.voice.cues import MISSED_AT_5_DB, SUGGESTED, TRIED
from companion.pages.desk import Desk
from companion.pages.setup.changes import fill_in
from companion.pages.setup.form import rows_in
from companion.pages.setup.page import StepPart
from companion.pages.setup.verdicts import verdicts

OWN, NONE = "own", "none"
"""Values of the choice beside the cues that come with the companion."""


def _own(desk: Desk, values: Mapping[str, Any]) -> dict[str, str]:  # noqa: ARG001
    cue = str(values.get("listening", {}).get("cue", ""))
    known = cue in SUGGESTED
    return {"pick": cue if known else OWN if cue else NONE, "own": "" if known else cue}


def _chosen(said: Mapping[str, str]) -> str:
    pick = said.get("pick", "")
    return {OWN: said.get("own", ""), NONE: ""}.get(pick, pick)


def _fill(document: tomlkit.TOMLDocument, said: Mapping[str, str]) -> str:
    fill_in(document, {"listening.cue": _chosen(said)} if "pick" in said else {})
    return ""


def _more(desk: Desk, values: Mapping[str, Any], said: Mapping[str, str]) -> dict[str, Any]:
    own = " ".join(said.get("own", "").lower().split())
    phrases = [str(row.get("say", "")) for row in rows_in(values, "phrases")]
    looked = verdicts(desk, values, phrases=phrases, cue=own) if said.get("do") == "look" and own else {}
    return {
        "suggested": [(cue, MISSED_AT_5_DB[cue]) for cue in SUGGESTED],
        "tried": TRIED,
        "verdict": looked.get(own),
    }


CUE = StepPart(holds=("listening",), own=_own, fill=_fill, more=_more)
