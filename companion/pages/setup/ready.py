"""Ready for the first lesson: everything that could stop one, looked at, each with the page that mends it."""

from collections.abc import Mapping
from typing import Any

from companion.language import later
from companion.pages.desk import Desk
from companion.pages.exercises.examination import Examination
from companion.pages.house import Verdict
from companion.pages.setup.page import StepPart
from companion.pages.setup.undisturbed import refuse_in_a_lesson

STEP = "ready"
VERDICTS = {
    Verdict.GOOD: later("Good"),
    Verdict.WARNING: later("Look"),
    Verdict.BAD: later("Stop"),
}
"""What stands before each thing."""
PAGES = {
    "settings": "/setup",
    "microphone": "/setup/microphone",
    "keys": "/setup/keys",
    "timetable": "/setup/week",
    "phrases": "/setup/phrases",
    "engine": "/setup/more",
    "sound on disk": "/setup/more",
    "companion": "/running",
}
"""Where each thing is mended, by what the finding is about."""


def _look(desk: Desk, values: Mapping[str, Any], said: Mapping[str, str], place: str) -> None:  # noqa: ARG001
    refuse_in_a_lesson(desk)
    desk.exercises.begin(lambda: Examination(desk.house))


def _more(desk: Desk, values: Mapping[str, Any], said: Mapping[str, str]) -> dict[str, Any]:  # noqa: ARG001
    return {"examination": desk.exercises.of(STEP), "pages": PAGES, "verdicts": VERDICTS}


READY = StepPart(saves=False, acts={"examine": _look}, more=_more)
