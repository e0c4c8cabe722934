"""Everything that can happen in a session, as values.

An `Event` is the envelope that the session log keeps; its body is one of the classes below. What a
session *is* comes from folding its events (`companion.lesson.fold`). Review, undo and overruling are
events as well: nothing is edited in place.

A new kind of event is a new class here, a name in `BODIES`, and a case in the fold.
"""

from dataclasses import dataclass
from datetime import datetime
from typing import get_args

from companion.lesson import aftercare
from companion.lesson.carry_over import CarriedOver
from companion.lesson.command import Command
from companion.lesson.mark import WHOLE_CLASS, FamilyContact, Kind, NoteKind, Source
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
class NoteCompleted:
    """An individual note was filled in, or filled in anew."""

    note: str
    child: str
    kind: NoteKind
    line: str = ""
    contact: FamilyContact | None = None


@dataclass(frozen=True, slots=True)
class NoteDropped:
    """An individual note was thrown away."""

    note: str


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


@dataclass(frozen=True, slots=True)
class MarkKept:
    """The review accepted a mark as it is."""

    mark: str


@dataclass(frozen=True, slots=True)
class MarkChanged:
    """The review changed a mark; None leaves a field as it was."""

    mark: str
    kind: Kind | None = None
    phase: str | None = None
    scope: str | None = None
    routine: str | None = None


@dataclass(frozen=True, slots=True)
class MarkDropped:
    """The review dropped a mark."""

    mark: str
    reason: str = ""


@dataclass(frozen=True, slots=True)
class MarkRestored:
    """The review took a dropped or undone mark back in."""

    mark: str


@dataclass(frozen=True, slots=True)
class MarkAdded:
    """The review added a mark that was missed. Without `at_ms` it stands at its phase's beginning."""

    kind: Kind
    phase: str
    at_ms: int | None = None
    scope: str = WHOLE_CLASS
    routine: str | None = None
    why: str = ""
    """Why it comes late, in the teacher's words."""


@dataclass(frozen=True, slots=True)
class NearMissConfirmed:
    """The review says that a near miss was truly said.

    It makes a mark, an individual note, or the beginning of a phase, as the phrase would have.

    kind: of the mark; None for a phrase that makes none. phase: the mark's own, where it is another than the
    one it was heard in, or the one that began.
    """

    near_miss: str
    kind: Kind | None
    phase: str | None = None


@dataclass(frozen=True, slots=True)
class NearMissDismissed:
    """The review says that a near miss was nothing."""

    near_miss: str


@dataclass(frozen=True, slots=True)
class EventTakenBack:
    """The review took back one of its own steps (the number of its event)."""

    taken_back: int


@dataclass(frozen=True, slots=True)
class SelfRated:
    """The class rated itself. `hands` counts raised hands for went well, so-so, needs work."""

    rating: str
    hands: tuple[int, int, int] | None = None


@dataclass(frozen=True, slots=True)
class TeacherViewed:
    """The teacher's own view of the lesson."""

    text: str


@dataclass(frozen=True, slots=True)
class RecognitionOverruled:
    """The teacher gave another level than the margin says. None: no recognition."""

    level: str | None
    reason: str


@dataclass(frozen=True, slots=True)
class CarryOverWritten:
    """What the teacher will say at the start of this class group's next session."""

    text: str


@dataclass(frozen=True, slots=True)
class CarryOverSaid:
    """A carry-over was said to the class.

    origin: the session that it was written in; "": all that this session was opened with.
    """

    origin: str = ""


@dataclass(frozen=True, slots=True)
class SessionSettled:
    """The count is settled with the class."""


@dataclass(frozen=True, slots=True)
class SessionReopened:
    """A settled session was opened again, for a reason."""

    reason: str


@dataclass(frozen=True, slots=True)
class NoteForgotten:
    """Something of the individual note `note` stood here; it was taken out for good."""

    note: str


@dataclass(frozen=True, slots=True)
class EventLost:
    """An event stood here that could not be read any more when a damaged log was salvaged."""


Body = (
    SessionOpened
    | ClassGroupNamed
    | PhaseBegan
    | MarkMade
    | MarkDoubled
    | NearMissHeard
    | UndoAsked
    | LastTakenBack
    | MarksTold
    | NoteOpened
    | NoteCompleted
    | NoteDropped
    | ListeningPaused
    | ListeningResumed
    | HearingLost
    | HearingRegained
    | CompanionRestarted
    | SessionClosed
    | MarkKept
    | MarkChanged
    | MarkDropped
    | MarkRestored
    | MarkAdded
    | NearMissConfirmed
    | NearMissDismissed
    | EventTakenBack
    | SelfRated
    | TeacherViewed
    | RecognitionOverruled
    | CarryOverWritten
    | CarryOverSaid
    | SessionSettled
    | SessionReopened
    | aftercare.Aftercare
    | NoteForgotten
    | EventLost
)

BODIES: dict[str, type[Body]] = {
    "session opened": SessionOpened,
    "class group named": ClassGroupNamed,
    "phase began": PhaseBegan,
    "mark made": MarkMade,
    "mark doubled": MarkDoubled,
    "near miss heard": NearMissHeard,
    "undo asked": UndoAsked,
    "note opened": NoteOpened,
    "note completed": NoteCompleted,
    "note dropped": NoteDropped,
    "listening paused": ListeningPaused,
    "listening resumed": ListeningResumed,
    "hearing lost": HearingLost,
    "hearing regained": HearingRegained,
    "companion restarted": CompanionRestarted,
    "session closed": SessionClosed,
    "mark kept": MarkKept,
    "mark changed": MarkChanged,
    "mark dropped": MarkDropped,
    "mark restored": MarkRestored,
    "mark added": MarkAdded,
    "near miss confirmed": NearMissConfirmed,
    "near miss dismissed": NearMissDismissed,
    "event taken back": EventTakenBack,
    "self rated": SelfRated,
    "teacher viewed": TeacherViewed,
    "recognition overruled": RecognitionOverruled,
    "carry-over written": CarryOverWritten,
    "carry-over said": CarryOverSaid,
    "session settled": SessionSettled,
    "session reopened": SessionReopened,
    "last taken back": LastTakenBack,
    "marks told": MarksTold,
    "carry-over dropped": aftercare.CarryOverDropped,
    "carry-over moved": aftercare.CarryOverMoved,
    "promise kept": aftercare.PromiseKept,
    "promise moved": aftercare.PromiseMoved,
    "promise dropped": aftercare.PromiseDropped,
    "award given": aftercare.AwardGiven,
    "award returned": aftercare.AwardReturned,
    "routine taught again": aftercare.RoutineTaughtAgain,
    "session taught": aftercare.SessionTaught,
    "note handed over": aftercare.NoteHandedOver,
    "note forgotten": NoteForgotten,
    "event lost": EventLost,
}
"""The name of each kind of event in the log. A name, once used, is never used for anything else."""

KIND_OF: dict[type[Body], str] = {body: kind for kind, body in BODIES.items()}

TAKES_BACK = (
    MarkKept,
    MarkChanged,
    MarkDropped,
    MarkRestored,
    MarkAdded,
    NearMissConfirmed,
    NearMissDismissed,
    NoteCompleted,
    NoteDropped,
    RecognitionOverruled,
)
"""The steps that the review can take back; what happened in the lesson itself stays said."""

AFTER_SETTLING = (
    SessionReopened,
    LastTakenBack,
    NoteOpened,
    NoteCompleted,
    NoteDropped,
    CarryOverSaid,
    *get_args(aftercare.Aftercare),
)
"""What a settled session takes: what is looked after beyond the lesson, and its reopening."""


IN_LESSON = (
    PhaseBegan,
    MarkMade,
    MarkDoubled,
    NearMissHeard,
    UndoAsked,
    ListeningPaused,
    ListeningResumed,
    HearingLost,
    HearingRegained,
    CompanionRestarted,
)
"""What happens in a lesson that is going on, each at its `at_ms`; nothing of it begins after the close."""


@dataclass(frozen=True, slots=True)
class Event:
    """The envelope of one thing that happened."""

    id: str
    """A ULID, unique on any machine."""
    session: str
    """The ULID of the session."""
    seq: int
    """1, 2, 3 … within the session, without a gap: the order in which things were recorded."""
    at: datetime
    """Wall time with zone, for people; it may jump, so nothing is ordered by it."""
    offset_ms: int
    """Monotonic milliseconds since the session opened, at the moment of recording."""
    body: Body
    batch: str = ""
    """The same for all that was recorded together, as one step; empty: this was recorded alone."""

    @property
    def step(self) -> str:
        """The same for the events of one step, and for no other event."""
        return self.batch or self.id

    @property
    def made(self) -> str | None:
        """The id of the mark, near miss or individual note that this event made; None if it made none.

        An event that was to confirm a near miss may have found it answered: its mark need not be there.
        """
        match self.body:
            case MarkMade() | MarkAdded() | NearMissConfirmed(kind=Kind()):
                return f"m{self.seq}"
            case NearMissHeard():
                return f"c{self.seq}"
            case NoteOpened():
                return f"n{self.seq}"
        return None
