"""What the review should look at first, and why."""

from dataclasses import dataclass
from enum import StrEnum

from companion.language import later
from companion.lesson.mark import Kind, Mark, MarkState, Source
from companion.lesson.near_miss import NearMiss
from companion.lesson.session import Session
from companion.lesson.span import STOOD_STILL, Stretch

BOUNDARY_MS = 20_000
"""A mark this soon after a phase change may mean the phase before: teachers often judge a phase just
after it ended."""
DOUBLED_MS = 3_000
"""Two marks of one kind and scope this close may be one mark heard twice."""
WAKING_MS = 2_000
"""A key that is told of so soon after the computer stood still may have been pressed meanwhile."""
CERTAIN = 0.8
"""Below this posterior a heard mark deserves a look."""


class Doubt(StrEnum):
    """Why a mark deserves a look."""

    UNSURE = later("not sure that it was said")
    BOUNDARY = later("just after a phase change")
    DOUBLED = later("perhaps one mark twice")
    LATE = later("pressed while the computer stood still: its time is not sure")


@dataclass(frozen=True, slots=True)
class DoubtfulMark:
    """A mark, what is doubtful about it, and the earlier phase where the boundary is the doubt."""

    mark: Mark
    doubts: tuple[Doubt, ...]
    earlier_phase: str | None = None


@dataclass(frozen=True, slots=True)
class ReviewList:
    """Everything that the review shows, what needs a look first."""

    doubtful: tuple[DoubtfulMark, ...]
    """Unreviewed marks with a doubt, least certain first."""
    near_misses: tuple[NearMiss, ...]
    """Unanswered near misses of any phrase, most certain first."""
    unheard: tuple[Stretch, ...]
    phases_without_marks: tuple[str, ...]
    """Phases that ran and hold no standing mark."""
    clear: tuple[Mark, ...]
    """Unreviewed marks without a doubt, least certain first."""
    reviewed: tuple[Mark, ...]
    """Marks that the review has looked at or that were taken back, in the order of time."""


def earlier_phase(session: Session, mark: Mark) -> str | None:
    """Return the phase before the one that began up to `BOUNDARY_MS` before `mark`, else None."""
    return _phase_before(session, mark) if mark.phase == mark.stamped_phase else None


def _phase_before(session: Session, mark: Mark) -> str | None:
    index = session.span_at(mark.at_ms)
    if not index:
        return None
    if mark.at_ms - session.phases[index].began_ms > BOUNDARY_MS:
        return None
    return session.phases[index - 1].name


def doubtful_at_first(session: Session, mark: Mark) -> bool:
    """Whether `mark` deserved a look before the review touched it, whatever it did with it since."""
    others = (other for other in session.marks if other.state is not MarkState.UNDONE)
    return (
        mark.certainty < CERTAIN
        or _phase_before(session, mark) is not None
        or any(_twin(mark, other) for other in others)
    )


def other_readings(session: Session, mark: Mark) -> tuple[tuple[Kind, str], ...]:
    """Return the kinds and phases that `mark` may have meant, its own first, the likeliest next."""
    before = _phase_before(session, mark)
    phases = dict.fromkeys([mark.stamped_phase, *([before] if before else []), mark.phase])
    readings = [(kind, phase) for kind in Kind for phase in phases]
    own = readings.index((mark.kind, mark.phase))
    return tuple(readings[own:] + readings[:own])


def doubts_of(session: Session, mark: Mark) -> tuple[Doubt, ...]:
    """Return what is doubtful about `mark`, worst first."""
    found = []
    if mark.certainty < CERTAIN:
        found.append(Doubt.UNSURE)
    if earlier_phase(session, mark) is not None:
        found.append(Doubt.BOUNDARY)
    if any(_twin(mark, other) for other in session.standing):
        found.append(Doubt.DOUBLED)
    if _late(session, mark):
        found.append(Doubt.LATE)
    return tuple(found)


def _late(session: Session, mark: Mark) -> bool:
    """Whether a key may have gone down long before `mark`: the computer told of it when it woke."""
    return mark.source is Source.KEY and any(
        stretch.reason == STOOD_STILL
        and stretch.ended_ms is not None
        and stretch.began_ms <= mark.at_ms <= stretch.ended_ms + WAKING_MS
        for stretch in session.unheard
    )


def _twin(mark: Mark, other: Mark) -> bool:
    return (
        other.id != mark.id
        and (other.kind, other.scope) == (mark.kind, mark.scope)
        and abs(other.at_ms - mark.at_ms) <= DOUBLED_MS
    )


def review_list(session: Session) -> ReviewList:
    """Return what the review of `session` shows, in its order."""
    by_certainty = sorted(session.unreviewed, key=lambda mark: (mark.certainty, mark.at_ms))
    doubts = {mark.id: doubts_of(session, mark) for mark in by_certainty}
    misses = [miss for miss in session.near_misses if not miss.answered]
    marked = {mark.phase for mark in session.standing}
    ran = dict.fromkeys(span.name for span in session.phases)
    unreviewed = set(doubts)
    return ReviewList(
        doubtful=tuple(
            DoubtfulMark(mark, doubts[mark.id], earlier_phase(session, mark))
            for mark in by_certainty
            if doubts[mark.id]
        ),
        near_misses=tuple(sorted(misses, key=lambda miss: -miss.confidence)),
        unheard=session.unheard,
        phases_without_marks=tuple(name for name in ran if name not in marked),
        clear=tuple(mark for mark in by_certainty if not doubts[mark.id]),
        reviewed=tuple(mark for mark in session.marks if mark.id not in unreviewed),
    )
