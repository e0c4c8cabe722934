"""What can be shown of a lesson that is going on."""

from dataclasses import dataclass
from enum import StrEnum

from companion.errors import CompanionError
from companion.language import _, later, many
from companion.lesson.nudge import Nudge
from companion.lesson.session import Session
from companion.lesson.timetable import Lesson
from companion.log.summary import Summary


class Listening(StrEnum):
    """Whether the microphone is open, and heard."""

    OFF = later("off")
    ON = later("on")
    PAUSED = later("paused")
    TROUBLED = later("not heard")
    GUEST = later("off for a guest")


@dataclass(frozen=True, slots=True)
class LiveState:
    """What can be shown of the lesson; a new one is published with every change."""

    session: Session | None = None
    """The session that is open; None between two."""
    zero_s: float = 0.0
    """When it opened, on the steady clock."""
    listening: Listening = Listening.OFF
    trouble: str = ""
    """Why nothing is heard, in plain words, as the log keeps them; empty when all is well."""
    remedy: str = ""
    coming: Lesson | None = None
    """The next lesson of the timetable, or the one whose time it is and that was not opened yet."""
    waiting: tuple[Summary, ...] = ()
    """Sessions that are closed but not settled, newest first."""
    overdue: tuple[str, ...] = ()
    """The class group of each promise whose day has passed."""
    nudges: tuple[Nudge, ...] = ()
    """What is to be said to the teacher alone."""
    settings_news: str = ""
    """What became of a change of the settings file; empty when it says what the companion does."""
    unwritten: int = 0
    """Steps that wait in memory, since the log can't be written."""
    log_trouble: CompanionError | None = None
    """Why not."""
    rescued: bool = True
    """Whether they lie in a file beside the log meanwhile."""

    @property
    def unheard(self) -> str:
        """Why nothing is heard, and what to do, as sentences; empty when all is well."""
        if not self.trouble:
            return ""
        trouble = _(self.trouble).rstrip(".")
        return f"{trouble[0].upper()}{trouble[1:]}. {self.remedy}"

    @property
    def waits(self) -> CompanionError | None:
        """What is to be said of steps that wait; None when all is in the log."""
        if not self.unwritten and self.log_trouble is None:
            return None
        said = self.log_trouble.what if self.log_trouble else _("The session log can't be written just now.")
        waiting = many(
            "{count} step of this lesson waits in memory, to be written when it can be.",
            "{count} steps wait in memory, to be written when it can be.",
            self.unwritten,
        )
        if not self.rescued:
            alone = _("They could not be saved in a file beside it either: let the companion run.")
            waiting = f"{waiting} {alone}"
        return CompanionError(
            said,
            safe=waiting if self.unwritten else "",
            remedy=self.log_trouble.remedy if self.log_trouble else "",
        )
