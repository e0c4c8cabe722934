"""Whether teaching a routine again helped, against what was to be expected anyway.

A routine is taught again after a bad spell, and a bad spell is followed by better lessons whatever is done
(regression to the mean). So the lessons afterwards are not compared with the spell, but with what all lessons
before, the spell's and those of other classes, lead one to expect of the next ones.
"""

from dataclasses import dataclass
from enum import StrEnum

from companion.language import _, decimal, later
from companion.weeks.rates import Rate

LEAST_LESSONS = 3
"""Fewer lessons afterwards say nothing."""
SURPRISE = 0.07
"""It helped, or got worse, if chance alone does as much in no larger share of cases; promised is a tenth."""


class Turn(StrEnum):
    """What the lessons afterwards say."""

    TOO_EARLY = later("too early to say")
    HELPED = later("it helped")
    NO_CHANGE = later("no change that could be told from chance")
    WORSE = later("it got worse")


@dataclass(frozen=True, slots=True)
class Effect:
    """The lessons after a routine was taught again, beside those that were to be expected."""

    needy: int
    lessons: int
    expected: float
    """Needy lessons to be expected without any teaching."""
    chance: float
    """Probability of as few (or, where it got worse, as many) needy lessons if nothing has changed."""
    change: Turn

    @property
    def sentence(self) -> str:
        """Say it with its numbers."""
        if self.change is Turn.TOO_EARLY:
            return _(
                "{lessons} of {least} lessons since then: too early to say.",
                lessons=self.lessons,
                least=LEAST_LESSONS,
            )
        counted = _(
            "{needy} of the next {lessons} lessons needed a reminder for it; {expected} were to be expected "
            "anyway.",
            needy=self.needy,
            lessons=self.lessons,
            expected=decimal(self.expected, 1),
        )
        chance = f"{100 * self.chance:.0f} %"
        match self.change:
            case Turn.HELPED:
                so = _("So it helped (by chance in {chance}).", chance=chance)
            case Turn.WORSE:
                so = _("So it got worse (by chance in {chance}).", chance=chance)
            case _other:
                so = _("So no change that could be told from chance.")
        return f"{counted} {so}"


def effect(before: Rate, needy: int, lessons: int) -> Effect:
    """Compare `needy` of the `lessons` afterwards with what the rate `before` lets expect.

    before: from lessons up to the teaching only, the bad spell among them.
    """
    few = before.chance_of_at_most(needy, lessons)
    many = 1 - before.chance_of_at_most(needy - 1, lessons) if needy else 1.0
    expected = lessons * before.mean
    if lessons < LEAST_LESSONS:
        return Effect(needy, lessons, expected, min(few, many), Turn.TOO_EARLY)
    if few <= SURPRISE:
        return Effect(needy, lessons, expected, few, Turn.HELPED)
    if many <= SURPRISE:
        return Effect(needy, lessons, expected, many, Turn.WORSE)
    return Effect(needy, lessons, expected, min(few, many), Turn.NO_CHANGE)
