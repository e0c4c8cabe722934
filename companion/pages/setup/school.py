"""School, room and tables, and in which language the program speaks."""

from collections.abc import Mapping
from typing import Any

from companion.language import LANGUAGES
from companion.pages.desk import Desk
from companion.pages.setup.page import StepPart


def _more(desk: Desk, values: Mapping[str, Any], said: Mapping[str, str]) -> dict[str, Any]:  # noqa: ARG001
    """Return the languages, each by its own name."""
    return {"languages": [(code, one.name) for code, one in LANGUAGES.items()]}


SCHOOL = StepPart(holds=("school", "words"), more=_more)
