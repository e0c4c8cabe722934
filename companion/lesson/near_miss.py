"""Candidates that did not fire, and what they would have done."""

from dataclasses import dataclass

from companion.language import _
from companion.lesson.command import Action, Command
from companion.lesson.mark import WHOLE_CLASS, Kind, scope_words


@dataclass(frozen=True, slots=True)
class NearMiss:
    """A candidate that did not fire; only the review shows it."""

    id: str
    """`c` and the number of its event."""
    at_ms: int
    phase: str
    phrase: str
    """Empty where only the cue was heard."""
    confidence: float
    command: Command | None
    """What it would have done; None where only the cue was heard: it names none."""
    engine: str | None = None
    reasons: tuple[str, ...] = ()
    answered: bool = False
    """Confirmed or dismissed in the review."""

    @property
    def cue_alone(self) -> bool:
        """Whether only the cue was heard, so that the teacher has to say of which kind the mark was."""
        return self.command is None

    @property
    def kind(self) -> Kind | None:
        """The kind of mark it would have been; None when the phrase makes no mark."""
        return self.command.kind if self.command else None

    @property
    def scope(self) -> str:
        """Whom that mark would have been for."""
        return self.command.scope if self.command else WHOLE_CLASS

    @property
    def wish(self) -> str:
        """What was perhaps asked for, in words: `praise (table four)`, `note: health office`."""
        match self.command:
            case None:
                return _("a mark")
            case Command(action=Action.PRAISE | Action.REMINDER as action, scope=scope):
                return _(action) if scope == WHOLE_CLASS else f"{_(action)} ({scope_words(scope)})"
            case Command(action=Action.NOTE, note=note):
                return _("note: {note}", note=_(str(note)))
            case Command(action=Action.PHASE, phase=phase):
                return _("phase {phase}", phase=phase)
            case Command(action=action):
                return _(action)
