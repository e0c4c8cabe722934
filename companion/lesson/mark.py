"""Marks and individual notes as the lesson knows them."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from companion.language import _, later, later_word

WHOLE_CLASS = later("class")
PART_OF_CLASS = later("part of the class")


TABLE_SCOPE = "table "
"""How the scope of a mark for one table begins, as the log keeps it."""


def table_scope(table: str) -> str:
    """Return the scope of a mark for one table, e.g. `table four`."""
    return f"{TABLE_SCOPE}{table}"


def scope_words(scope: str) -> str:
    """Return whom a mark was for, as it is read: `table four`."""
    if scope.startswith(TABLE_SCOPE):
        return _("table {table}", table=scope.removeprefix(TABLE_SCOPE))
    return _(scope)


class Kind(StrEnum):
    """What a mark says of the class."""

    PRAISE = later("praise")
    REMINDER = later("reminder")


class Source(StrEnum):
    """Where a command came from."""

    VOICE = later("voice")
    KEY = later("key")
    PAGE = later("page")
    CLOCK = later("clock")
    REVIEW = later("review")
    COMMAND_LINE = later("command line")


class MarkState(StrEnum):
    """What the review has made of a mark so far."""

    UNREVIEWED = later_word("mark", "unreviewed")
    KEPT = later_word("mark", "kept")
    CHANGED = later_word("mark", "changed")
    ADDED = later_word("mark", "added")
    CONFIRMED = later_word("mark", "confirmed")
    """A near miss that the teacher confirmed."""
    DROPPED = later_word("mark", "dropped")
    UNDONE = later_word("mark", "undone")
    """Taken back during the lesson."""

    @property
    def stands(self) -> bool:
        """Whether a mark in this state counts."""
        return self not in (MarkState.DROPPED, MarkState.UNDONE)


@dataclass(frozen=True, slots=True)
class Mark:
    """One whole-class observation."""

    id: str
    """`m` and the number of the event that made it; unique within its session."""
    at_ms: int
    """When the phrase began or the key went down, in milliseconds since the session opened."""
    phase: str
    kind: Kind
    scope: str
    source: Source
    state: MarkState
    stamped_phase: str
    """The phase in force at `at_ms`; differs from `phase` only where the review moved the mark."""
    routine: str | None = None
    phrase: str | None = None
    """What was heard, where it was heard."""
    confidence: float | None = None
    """Posterior of a heard phrase, 0 to 1; None for a key, the page and the review: nothing to doubt."""
    engine: str | None = None
    reasons: tuple[str, ...] = ()
    doubled_by: tuple[Source, ...] = ()
    """Other sources that meant the same mark and were not counted again."""
    told: bool = True
    """Whether the class was told of it; one that is held or was added afterwards is told later."""
    why: str = ""
    """Why it came late, where it was added afterwards."""

    @property
    def late(self) -> bool:
        """Whether it was added after the fact."""
        return self.source is Source.REVIEW

    @property
    def certainty(self) -> float:
        """Confidence, with 1.0 where there is nothing to doubt."""
        return 1.0 if self.confidence is None else self.confidence


class NoteKind(StrEnum):
    """What an individual note is about."""

    HEALTH_OFFICE = later("health office")
    WENT_HOME_SOONER = later("went home sooner")
    ARRIVED_LATE = later("arrived late")
    PEER_CONFLICT = later("peer conflict")
    TIME_OUT = later("time-out")
    OTHER = later("other")

    @classmethod
    def _missing_(cls, value: object) -> "NoteKind | None":
        """Read the words of logs and settings before a kind was named anew."""
        return cls.WENT_HOME_SOONER if value == "left early" else None


@dataclass(frozen=True, slots=True)
class FamilyContact:
    """Whether, how and when the teacher will contact a family."""

    by: str
    how: str
    when: str = ""
    """When, in the teacher's words; may be left to `due`."""
    due: date | None = None
    """The last day for it; None in logs before this was kept."""


@dataclass(frozen=True, slots=True)
class IndividualNote:
    """Something about one child for the hand-off only; never moves the class's count."""

    id: str
    """`n` and the number of the event that opened it."""
    at_ms: int
    phase: str
    kind: NoteKind
    source: Source
    child: str = ""
    """Initials or a seat number; empty until the teacher completes the note."""
    line: str = ""
    contact: FamilyContact | None = None

    @property
    def complete(self) -> bool:
        """Whether the note says which child it is about."""
        return bool(self.child)
