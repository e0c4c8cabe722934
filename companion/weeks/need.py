"""Routines to teach again, with what is found by chance kept under a share of all that is shown."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from companion.language import _
from companion.weeks.cell import Cell
from companion.weeks.rates import Rate, Usual, rates

NEEDS_FROM = 0.3
"""A routine needs to be taught again if more than three lessons in ten truly need a reminder for it."""
MOST_FALSE = 0.03
"""Share of the findings shown that may be false."""
LEAST_LESSONS = 6
"""Of fewer lessons nothing is named: where classes differ by one spread, four of four are often chance."""
MOST_DOUBT = 0.5
"""What is rather false than not is never named, however sure the others are."""


@dataclass(frozen=True, slots=True)
class Need:
    """A routine that needs to be taught again, and how sure that is."""

    cell: Cell
    rate: Rate
    doubt: float
    """Probability that it does not need it."""

    @property
    def sentence(self) -> str:
        """Say it with its numbers."""
        low, high = (round(10 * end) for end in self.rate.interval())
        cell, chance = self.cell, _percent(self.doubt)
        counted = _(
            "Teach {what} again: {needy} of {lessons} lessons had more reminders than praise for it "
            "({reminder} reminders, {praise} praise).",
            what=cell.what,
            needy=cell.count,
            lessons=cell.lessons,
            reminder=cell.reminder,
            praise=cell.praise,
        )
        if low == high:
            likely = _(
                "With what other classes and routines tell, likely {count} in 10 lessons need it; it is "
                "chance with {chance}.",
                count=low,
                chance=chance,
            )
        else:
            likely = _(
                "With what other classes and routines tell, likely {low} to {high} in 10 lessons need it; it "
                "is chance with {chance}.",
                low=low,
                high=high,
                chance=chance,
            )
        return f"{counted} {likely}"


def needs(
    cells: Sequence[Cell],
    shown: Callable[[Cell], bool] = lambda _cell: True,
    *,
    most_false: float = MOST_FALSE,
    near: Usual | None = None,
) -> tuple[Need, ...]:
    """Return the routines to teach again among the cells that are `shown`, the surest first.

    All cells together say what is usual. Of the findings returned, a share of at most `most_false` is
    expected to be false: the probabilities of being so are added up from the surest on (direct posterior
    probability; Newton, Noueiry, Sarkar and Ahlquist, Biostatistics 2004). near: as for `rates.usual`.
    """
    found = [need for need in _doubts(tuple(cells), near) if need.doubt <= MOST_DOUBT and shown(need.cell)]
    found.sort(key=lambda need: (need.doubt, need.cell.class_group, need.cell.phase, need.cell.routine))
    doubt = 0.0
    for number, need in enumerate(found):
        doubt += need.doubt
        if doubt > most_false * (number + 1):
            return tuple(found[:number])
    return tuple(found)


@lru_cache(maxsize=16)
def _doubts(cells: tuple[Cell, ...], near: Usual | None) -> tuple[Need, ...]:
    """Return the cells that may be named, with their doubt; worked out once for what is asked for often.

    By Markov's inequality none is left out that a doubt of at most `MOST_DOUBT` could have.
    """
    return tuple(
        Need(cell, rate, 1 - rate.above(NEEDS_FROM))
        for cell, rate in zip(cells, rates(cells, near), strict=True)
        if cell.lessons >= LEAST_LESSONS and rate.mean >= NEEDS_FROM * (1 - MOST_DOUBT)
    )


def _percent(part: float) -> str:
    return _("less than 1 %") if part < 0.01 else f"{100 * part:.0f} %"
