"""The try: three phrases said and two keys pressed, and seen, before any lesson."""

from collections.abc import Mapping
from typing import Any

from companion.listening.engines import Voice
from companion.pages.desk import Desk
from companion.pages.exercises.tryout import Tryout
from companion.pages.setup.means import command_words
from companion.pages.setup.page import StepPart
from companion.pages.setup.undisturbed import refuse_in_a_lesson
from companion.settings.settings import load_settings

STEP = "try"


def _begin(desk: Desk, values: Mapping[str, Any], said: Mapping[str, str], place: str) -> None:  # noqa: ARG001
    refuse_in_a_lesson(desk)
    settings = load_settings(desk.home.settings)
    voice = Voice(features=desk.home.voice, models=desk.home.models)
    desk.exercises.begin(lambda: Tryout(settings, voice))


def _end(desk: Desk, values: Mapping[str, Any], said: Mapping[str, str], place: str) -> None:  # noqa: ARG001
    exercise = desk.exercises.of(STEP)
    if exercise is not None:
        exercise.rest()


def _more(desk: Desk, values: Mapping[str, Any], said: Mapping[str, str]) -> dict[str, Any]:  # noqa: ARG001
    settings = load_settings(desk.home.settings)
    cue = settings.listening.cue or ""
    return {
        "tryout": desk.exercises.of(STEP),
        "examples": [f"{cue} {say}".strip() for say in list(settings.commands)[:4]],
        "keys": [(key.press, command_words(key.command())) for key in settings.keys],
        "command_words": command_words,
    }


TRY = StepPart(saves=False, acts={"begin": _begin, "end": _end}, more=_more)
