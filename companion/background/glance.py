"""How the running companion is, at a glance: one of four."""

from enum import StrEnum

from companion.language import _
from companion.live.state import Listening, LiveState


class Glance(StrEnum):
    """What a small icon can tell."""

    LISTENING = "listening"
    PAUSED = "paused"
    TROUBLE = "trouble"
    OFF = "off"


def glance_at(state: LiveState) -> tuple[Glance, str]:
    """Return how the companion is, and the words for it; they name no child."""
    session = state.session
    if waits := state.waits:
        return Glance.TROUBLE, f"{waits.what} {waits.safe}".strip()
    if session is None:
        return Glance.OFF, _("No lesson is open; the microphone is closed.")
    if state.listening is Listening.PAUSED:
        return Glance.PAUSED, _("{class_group}: listening is paused.", class_group=session.class_group)
    if state.listening is Listening.GUEST:
        return Glance.PAUSED, _(
            "{class_group}: not listening, a guest teaches.", class_group=session.class_group
        )
    if state.trouble:
        return Glance.TROUBLE, f"{session.class_group}: {state.unheard}"
    return Glance.LISTENING, _("{class_group}: listening.", class_group=session.class_group)
