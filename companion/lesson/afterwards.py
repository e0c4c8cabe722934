"""What is done after the lesson, in review, reflection and settling, as bodies of events."""

from dataclasses import dataclass

from companion.lesson.mark import WHOLE_CLASS, FamilyContact, Kind, NoteKind


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
