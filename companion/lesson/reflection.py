"""The talk with the class at the end: phase by phase to the recognition, and what to carry over."""

from collections import Counter
from dataclasses import dataclass
from enum import StrEnum

from companion.lesson.handoff import PhaseSummary, phase_summaries
from companion.lesson.mark import WHOLE_CLASS, Kind
from companion.lesson.recognition import level_for
from companion.lesson.session import Session

MOST_IDEAS = 4


class Rating(StrEnum):
    """What the class says of its own lesson, in the order of a count of hands."""

    WENT_WELL = "went well"
    SO_SO = "so-so"
    NEEDS_WORK = "needs work"


@dataclass(frozen=True, slots=True)
class Step:
    """The count after one more phase."""

    summary: PhaseSummary
    margin: int
    """Praise minus reminders up to the end of this phase."""
    recognition: str | None
    """The level that this margin reaches; None below the lowest."""


def steps(session: Session) -> tuple[Step, ...]:
    """Return the phases that hold a mark, in the plan's order, each with the count as it settles."""
    found, margin = [], 0
    for summary in phase_summaries(session):
        margin += summary.praise - summary.reminder
        level = level_for(session.levels, margin)
        found.append(Step(summary, margin, level.name if level else None))
    return tuple(found)


def rating_of(hands: tuple[int, int, int]) -> Rating | None:
    """Return the rating with the most hands, the humbler one of two equals; None if no hand was up."""
    if not any(hands):
        return None
    ratings = list(Rating)
    return max(reversed(ratings), key=lambda rating: hands[ratings.index(rating)])


def carry_over_ideas(session: Session) -> tuple[str, ...]:
    """Return sentences to pick a carry-over from: what needed a reminder first, then what went well.

    Only what is about the whole class: a carry-over is said to all of it.
    """
    marks = [mark for mark in session.standing if mark.scope == WHOLE_CLASS and mark.phase]
    counts = Counter((mark.kind, mark.phase, mark.routine) for mark in marks)
    ideas = [
        _remind(phase, routine) if kind is Kind.REMINDER else _thank(phase, routine)
        for wanted in (Kind.REMINDER, Kind.PRAISE)
        for (kind, phase, routine), _ in counts.most_common()
        if kind is wanted
    ]
    return tuple(ideas[:MOST_IDEAS])


def _remind(phase: str, routine: str | None) -> str:
    if routine:
        return f"Before {phase} we practise once: {routine}."
    return f"Before {phase} we say together what it looks like when it goes well."


def _thank(phase: str, routine: str | None) -> str:
    return f"Last time {routine or phase} went well. Let us do that again."
