"""Everything that can happen in a session, as values.

An `Event` is the envelope that the session log keeps; its body says what happened: in the lesson
(`happening`), in review, reflection and settling (`afterwards`), or beyond both (`aftercare`). What a session
*is* comes from folding its events (`companion.lesson.fold`). Review, undo and overruling are events as well:
nothing is edited in place.

A new kind of event is a class in one of these modules, a name in `BODIES`, and a case in the fold.
"""

from dataclasses import dataclass
from datetime import datetime
from typing import get_args

from companion.lesson import aftercare
from companion.lesson.afterwards import (
    CarryOverSaid,
    CarryOverWritten,
    EventTakenBack,
    MarkAdded,
    MarkChanged,
    MarkDropped,
    MarkKept,
    MarkRestored,
    NearMissConfirmed,
    NearMissDismissed,
    NoteCompleted,
    NoteDropped,
    RecognitionOverruled,
    SelfRated,
    SessionReopened,
    SessionSettled,
    TeacherViewed,
)
from companion.lesson.happening import (
    AskedAgain,
    ClassGroupNamed,
    CompanionRestarted,
    HearingLost,
    HearingRegained,
    LastTakenBack,
    ListeningPaused,
    ListeningResumed,
    MarkDoubled,
    MarkMade,
    MarksTold,
    NearMissHeard,
    NoteOpened,
    PhaseBegan,
    SessionClosed,
    SessionOpened,
    UndoAsked,
)
from companion.lesson.mark import Kind


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
    | AskedAgain
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
    "asked again": AskedAgain,
    "carry-over dropped": aftercare.CarryOverDropped,
    "carry-over moved": aftercare.CarryOverMoved,
    "promise kept": aftercare.PromiseKept,
    "promise moved": aftercare.PromiseMoved,
    "promise dropped": aftercare.PromiseDropped,
    "award given": aftercare.AwardGiven,
    "award returned": aftercare.AwardReturned,
    "award brought back": aftercare.AwardBroughtBack,
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
    AskedAgain,
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
