"""The microphone: which one, and whether a voice is heard well by it."""

from collections.abc import Mapping
from typing import Any

from companion.errors import CompanionError
from companion.listening.microphone.devices import Device, is_plugged, probe
from companion.pages.desk import Desk
from companion.pages.exercises.level import HeardMicrophone
from companion.pages.setup.page import StepPart
from companion.pages.setup.undisturbed import refuse_in_a_lesson

FIELD = "listening.microphone"


def _listen(desk: Desk, values: Mapping[str, Any], said: Mapping[str, str], place: str) -> None:  # noqa: ARG001
    refuse_in_a_lesson(desk)
    wanted = said.get(FIELD, "")
    desk.exercises.begin(lambda: HeardMicrophone(wanted))


def _quiet(desk: Desk, values: Mapping[str, Any], said: Mapping[str, str], place: str) -> None:  # noqa: ARG001
    desk.exercises.end("microphone")


def _more(desk: Desk, values: Mapping[str, Any], said: Mapping[str, str]) -> dict[str, Any]:  # noqa: ARG001
    chosen = str(values.get("listening", {}).get("microphone", ""))
    try:
        devices, trouble = [one for one in probe() if is_plugged(one)], ""
    except CompanionError as error:
        devices, trouble = [], str(error)
    return {
        "devices": _told_apart(devices),
        "missing": bool(chosen) and not any(chosen.casefold() in one.name.casefold() for one in devices),
        "trouble": trouble,
        "heard": desk.exercises.of("microphone"),
    }


def _told_apart(devices: list[Device]) -> list[str]:
    """Return the names of the microphones, each once: a system may offer one in several ways."""
    return list(dict.fromkeys(one.name for one in devices))


MICROPHONE = StepPart(acts={"listen": _listen, "quiet": _quiet}, more=_more)
