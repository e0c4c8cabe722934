"""What the teacher asks for by a phrase, a key or a button, whatever the source."""

from dataclasses import dataclass
from enum import StrEnum

from companion.language import later
from companion.lesson.mark import WHOLE_CLASS, Kind, NoteKind


class Action(StrEnum):
    """What a command does."""

    PRAISE = later("praise")
    REMINDER = later("reminder")
    NEXT_PHASE = later("next phase")
    PHASE = later("phase")
    UNDO = later("undo")
    TELL = later("tell the class")
    """Of the marks that were held."""
    NOTE = later("note")
    PAUSE = later("pause listening")
    RESUME = later("resume listening")
    """By key or page only: a microphone that is closed hears nothing."""
    OPEN = later("open session")
    """By key or page only: of the class that the timetable has now or next today, else an unplanned one."""
    CLOSE = later("close session")
    """By key or page only: a lesson is not ended by something that sounded like it."""


@dataclass(frozen=True, slots=True)
class Command:
    """One thing to do in the session that is open."""

    action: Action
    phase: str | None = None
    """The phase to go to, for `Action.PHASE`."""
    scope: str = WHOLE_CLASS
    note: NoteKind | None = None
    """What the individual note is about, for `Action.NOTE`."""
    routine: str | None = None

    @property
    def kind(self) -> Kind | None:
        """The kind of mark that this command makes, or None if it makes none."""
        match self.action:
            case Action.PRAISE:
                return Kind.PRAISE
            case Action.REMINDER:
                return Kind.REMINDER
        return None
