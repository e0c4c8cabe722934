"""What happens in a lesson, from its opening to its close, as bodies of events."""

from dataclasses import dataclass

from companion.lesson.carry_over import CarriedOver
from companion.lesson.command import Command
from companion.lesson.mark import WHOLE_CLASS, Kind, NoteKind, Source
from companion.lesson.plan import Plan
from companion.lesson.recognition import Level


@dataclass(frozen=True, slots=True)
class SessionOpened:
    """A class group has come. The plan and the levels are kept as they were on that day."""

    class_group: str
    plan: Plan
    levels: tuple[Level, ...] = ()
    tables: tuple[str, ...] = ()
    room: str = ""
    engine: str | None = None
    """Which engine listens; None for a session without listening."""
    carry_over: str = ""
    """What was left unsaid at the end of this class group's last session, in logs before `waiting`."""
    waiting: tuple[CarriedOver, ...] | None = None
    """All that is still to be said to this class group, oldest first; None in logs before this was kept."""
    holds_marks: bool = False
    """Whether a mark is held until the teacher tells the class, or told at once."""


@dataclass(frozen=True, slots=True)
class ClassGroupNamed:
    """Which class group it is was said after the opening: it was opened as another, or as none.

    plan: None leaves the plan as it was.
    """

    class_group: str
    plan: Plan | None = None
    carry_over: str = ""
    """What was left unsaid at the end of that class group's last session, in logs before `waiting`."""
    waiting: tuple[CarriedOver, ...] | None = None
    """All that is still to be said to that class group, as in `SessionOpened`."""


@dataclass(frozen=True, slots=True)
class PhaseBegan:
    """The lesson moved into a phase. `at_ms` is when the phrase began or the key went down."""

    phase: str
    at_ms: int
    source: Source


@dataclass(frozen=True, slots=True)
class AskedAgain:
    """The teacher asked for what was so already, as for a phase that the plan's clock had just begun.

    It is what the teacher did last all the same: undo takes back that, which is nothing, and no mark before.
    """

    command: Command
    at_ms: int
    source: Source


@dataclass(frozen=True, slots=True)
class MarkMade:
    """A mark was made during the lesson."""

    kind: Kind
    at_ms: int
    source: Source
    scope: str = WHOLE_CLASS
    routine: str | None = None
    phrase: str | None = None
    confidence: float | None = None
    engine: str | None = None
    reasons: tuple[str, ...] = ()
    held: bool = False
    """Whether the class is told of it later (`MarksTold`); it counts from now on all the same."""


@dataclass(frozen=True, slots=True)
class MarkDoubled:
    """Another source meant the mark `mark` too; it counts once."""

    mark: str
    at_ms: int
    source: Source


@dataclass(frozen=True, slots=True)
class NearMissHeard:
    """A candidate did not fire. `command` is what it would have done."""

    phrase: str
    """Empty where only the cue was heard."""
    at_ms: int
    confidence: float
    command: Command | None
    """None where only the cue was heard: it names none."""
    engine: str | None = None
    reasons: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class UndoAsked:
    """The teacher took back the newest mark that still stands, if there was one: undo in older logs."""

    at_ms: int
    source: Source


@dataclass(frozen=True, slots=True)
class LastTakenBack:
    """The teacher took back what was done last, whatever it was (`companion.lesson.undo`).

    taken_back: numbers of the events that were one step; none if there was nothing to take back.
    """

    taken_back: tuple[int, ...]
    at_ms: int
    source: Source


@dataclass(frozen=True, slots=True)
class MarksTold:
    """The class was told of marks that had been held, or that were added afterwards."""

    marks: tuple[str, ...]
    at_ms: int
    source: Source


@dataclass(frozen=True, slots=True)
class NoteOpened:
    """An individual note was begun."""

    kind: NoteKind
    at_ms: int
    source: Source


@dataclass(frozen=True, slots=True)
class ListeningPaused:
    """The microphone was closed at the teacher's wish."""

    at_ms: int
    source: Source


@dataclass(frozen=True, slots=True)
class ListeningResumed:
    """The microphone was opened again at the teacher's wish."""

    at_ms: int
    source: Source


@dataclass(frozen=True, slots=True)
class HearingLost:
    """From `at_ms` on nothing could be heard, though the companion should have listened."""

    at_ms: int
    reason: str


@dataclass(frozen=True, slots=True)
class HearingRegained:
    """From `at_ms` on the companion hears again."""

    at_ms: int


@dataclass(frozen=True, slots=True)
class CompanionRestarted:
    """The companion went on with this session after a crash, a power cut or a restart.

    The stretch from `last_ms` to `at_ms` was neither heard nor watched.
    """

    last_ms: int
    at_ms: int


@dataclass(frozen=True, slots=True)
class SessionClosed:
    """The lesson is over: no more listening. The review may go on."""

    at_ms: int
    source: Source
