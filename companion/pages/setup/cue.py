"""The cue: one that was measured, or one of the teacher's own."""

from collections.abc import Mapping
from typing import Any

import tomlkit

from companion.lesson.vocabulary import Vocabulary
from companion.listening.detection.synthesiser import is_installed
from companion.listening.engines import is_english
from companion.listening.voice.cues import MISSED_AT_5_DB, SUGGESTED, TRIED, synthetic_cue
from companion.pages.desk import Desk
from companion.pages.exercises.taught_cue import TaughtCue
from companion.pages.setup.changes import fill_in
from companion.pages.setup.form import rows_in
from companion.pages.setup.page import StepPart, only_look
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


def _teach(desk: Desk, values: Mapping[str, Any], said: Mapping[str, str], place: str) -> None:  # noqa: ARG001
    cue = str(values.get("listening", {}).get("cue", ""))
    if cue and is_installed():
        desk.exercises.begin(lambda: TaughtCue(cue, desk.home.create().voice))


def _unlearnt(desk: Desk, values: Mapping[str, Any]) -> bool:
    """Whether the cue as it is saved is one that no voice has said yet, real or synthetic."""
    listening = values.get("listening", {})
    cue, language = str(listening.get("cue", "")), str(listening.get("language", "en"))
    english = is_english(Vocabulary((), cue=cue, language=language))
    return bool(cue) and english and synthetic_cue(cue, desk.home.voice) is None


def _more(desk: Desk, values: Mapping[str, Any], said: Mapping[str, str]) -> dict[str, Any]:
    own = " ".join(said.get("own", "").lower().split())
    phrases = [str(row.get("say", "")) for row in rows_in(values, "phrases")]
    looked = verdicts(desk, values, phrases=phrases, cue=own) if said.get("do") == "look" and own else {}
    return {
        "suggested": [(cue, MISSED_AT_5_DB[cue]) for cue in SUGGESTED],
        "tried": TRIED,
        "verdict": looked.get(own),
        "unlearnt": _unlearnt(desk, values),
        "can_teach": is_installed(),
        "taught": desk.exercises.of("cue"),
    }


CUE = StepPart(
    holds=("listening",),
    own=_own,
    fill=_fill,
    acts={"look": only_look, "teach": _teach},
    more=_more,
)
