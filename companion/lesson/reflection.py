"""The talk with the class at the end: its own rating, and what to carry over."""

from collections import Counter
from enum import StrEnum

from companion.language import _, later
from companion.lesson.mark import WHOLE_CLASS, Kind
from companion.lesson.session import Session

MOST_IDEAS = 4


class Rating(StrEnum):
    """What the class says of its own lesson, in the order of a count of hands."""

    WENT_WELL = later("went well")
    SO_SO = later("so-so")
    NEEDS_WORK = later("needs work")


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
        for (kind, phase, routine), _times in counts.most_common()
        if kind is wanted
    ]
    return tuple(ideas[:MOST_IDEAS])


def _remind(phase: str, routine: str | None) -> str:
    if routine:
        return _("Before {phase} we practise once: {routine}.", phase=phase, routine=routine)
    return _("Before {phase} we say together what it looks like when it goes well.", phase=phase)


def _thank(phase: str, routine: str | None) -> str:
    return _("Last time {what} went well. Let us do that again.", what=routine or phase)
