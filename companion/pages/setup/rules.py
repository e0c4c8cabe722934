"""What this is, whose rules come first, and in which language one begins."""

from collections.abc import Mapping
from typing import Any

from companion.language import LANGUAGES
from companion.pages.desk import Desk
from companion.pages.setup.beginning import other_starters
from companion.pages.setup.page import StepPart


def _more(desk: Desk, values: Mapping[str, Any], said: Mapping[str, str]) -> dict[str, Any]:  # noqa: ARG001
    return {
        "starters": {code: LANGUAGES[code].name for code in other_starters(values)},
        "starter": LANGUAGES.get(values.get("listening", {}).get("language", "")),
    }


RULES = StepPart(more=_more)
