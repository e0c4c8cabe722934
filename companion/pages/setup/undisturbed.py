"""Keeps exercises away from a lesson that is open: its microphone and its keys are its own."""

from companion.errors import CompanionError
from companion.language import _
from companion.pages.desk import Desk


def refuse_in_a_lesson(desk: Desk) -> None:
    """Raise CompanionError while a lesson is open."""
    with desk.log() as log:
        running = next((one for one in log.summaries(most=5) if not one.closed), None)
    if running is not None:
        raise CompanionError(
            _(
                "The lesson of {class_group} is open, and the microphone is its own.",
                class_group=running.class_group,
            ),
            safe=_("It goes on."),
            remedy=_("End it first, or try this between two lessons."),
        )
