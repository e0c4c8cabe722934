"""What truly happened in a lesson, kept apart from the companion, and what has become of it in its log."""

from collections import Counter
from dataclasses import dataclass, field

from companion.lesson.mark import Kind, Mark, MarkState, Source
from companion.lesson.near_miss import NearMiss
from companion.lesson.scoring import TOLERANCE_MS
from companion.lesson.session import Session

CLOSE_MS = {Source.VOICE: TOLERANCE_MS, Source.KEY: 2, Source.PAGE: 2}
"""How far from its true moment a mark may lie: a voice's beginning is estimated."""


@dataclass(slots=True)
class Asked:
    """A mark that was said, pressed or clicked."""

    way: Source
    kind: Kind
    at_ms: int
    """Since the lesson opened."""
    phase: str
    """In which it began."""
    phrase: str = ""
    deaf: bool = False
    """Whether the companion had said that it hears nothing."""
    undone: bool = False


@dataclass(slots=True)
class Truth:
    """A lesson as it truly was."""

    session: str
    class_group: str
    zero_s: float
    phases: list[tuple[int, str]]
    """When each phase began, in order."""
    marks: list[Asked] = field(default_factory=list)
    carry_over: str = ""
    view: str = ""
    note_line: str = ""

    def ms(self, steady_s: float) -> int:
        """Return a moment of the steady clock in the lesson's own time."""
        return round((steady_s - self.zero_s) * 1000)

    def phase_at(self, at_ms: int) -> str:
        """Return the phase in which a moment lies."""
        return [name for begins_ms, name in self.phases if begins_ms <= at_ms][-1]

    @property
    def standing(self) -> list[Asked]:
        """The marks that were not taken back."""
        return [mark for mark in self.marks if not mark.undone]

    def counts(self) -> Counter[tuple[str, str]]:
        """Return the marks by kind and phase as they are to be on the note."""
        return Counter((mark.kind, mark.phase) for mark in self.standing)


@dataclass(slots=True)
class Matched:
    """Truth and log, mark by mark."""

    pairs: list[tuple[Asked, Mark]] = field(default_factory=list)
    missing: list[Asked] = field(default_factory=list)
    near: list[tuple[Asked, NearMiss]] = field(default_factory=list)
    """Of those that are missing: heard, but not surely."""
    false: list[Mark] = field(default_factory=list)

    @property
    def wrong_phase(self) -> list[tuple[Asked, Mark]]:
        """Those that are stamped with another phase than they began in."""
        return [(asked, mark) for asked, mark in self.pairs if mark.stamped_phase != asked.phase]


def match(truth: Truth, session: Session) -> Matched:
    """Find each mark that was asked for in the log, the nearest of its way and kind."""
    matched, left = Matched(), list(session.marks)
    misses = [miss for miss in session.near_misses if not miss.answered]
    for asked in truth.marks:
        own = [mark for mark in left if _agree(asked, mark)]
        if own:
            nearest = min(own, key=lambda mark: abs(mark.at_ms - asked.at_ms))
            left.remove(nearest)
            matched.pairs.append((asked, nearest))
            continue
        matched.missing.append(asked)
        close = [m for m in misses if m.kind == asked.kind and abs(m.at_ms - asked.at_ms) <= TOLERANCE_MS]
        if asked.way is Source.VOICE and close:
            misses.remove(close[0])
            matched.near.append((asked, close[0]))
    matched.false = left
    return matched


def _agree(asked: Asked, mark: Mark) -> bool:
    return (
        mark.source is asked.way
        and mark.kind == asked.kind
        and (mark.state is MarkState.UNDONE) == asked.undone
        and mark.phrase == (asked.phrase or None)
        and abs(mark.at_ms - asked.at_ms) <= CLOSE_MS[asked.way]
    )
