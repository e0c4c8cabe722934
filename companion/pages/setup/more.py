"""Settings that can wait until somebody wants them."""

from collections.abc import Mapping
from typing import Any

from companion.language import _, later
from companion.listening.engines import engine_names
from companion.pages.desk import Desk
from companion.pages.setup.page import StepPart

ENGINES = {
    "auto": later("the best that is ready"),
    "enrolled": later("what was learnt of my voice"),
    "vosk": later("a speech model"),
    "phonemes": later("anybody's voice"),
}
"""Engines in a teacher's words."""


def _more(desk: Desk, values: Mapping[str, Any], said: Mapping[str, str]) -> dict[str, Any]:  # noqa: ARG001
    return {"engines": [(name, _(ENGINES[name]) if name in ENGINES else name) for name in engine_names()]}


MORE = StepPart(holds=("tones", "pages", "telling", "keeping", "nudge", "listening"), more=_more)
