"""Which phases get judged: a phase without a mark is neither praised nor reminded."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from companion.lesson.chance import Share, share
from companion.log.weeks import PhaseLook

LEAST_HELD = 4
"""Fewer lessons do not show a habit."""
RARELY = 1 / 3
"""A phase is judged rarely if it gets a mark in less than every third lesson."""


@dataclass(frozen=True, slots=True)
class Coverage:
    """How often a phase was judged, over all class groups that are looked at."""

    phase: str
    judged: Share
    """Lessons in which it got a mark, of those in which it was held."""
    praise: int
    reminder: int
    named: Share
    """Praises that named a routine, of all praises."""

    @property
    def rarely(self) -> bool:
        """Whether it was judged rarely."""
        return self.judged.total >= LEAST_HELD and self.judged.value < RARELY

    @property
    def sentence(self) -> str:
        """Say how often it was judged."""
        return f"{self.phase} got a mark in {self.judged.count} of {self.judged.total} lessons."


def coverage(looks: Iterable[PhaseLook]) -> tuple[Coverage, ...]:
    """Return the coverage of each phase, in the order of the lesson."""
    by_phase: dict[str, list[PhaseLook]] = defaultdict(list)
    for look in looks:
        by_phase[look.phase].append(look)

    def place(same: list[PhaseLook]) -> float:
        return sum(look.place * look.held for look in same) / sum(look.held for look in same)

    return tuple(
        Coverage(
            phase,
            share(sum(look.judged for look in same), sum(look.held for look in same)),
            praise := sum(look.praise for look in same),
            sum(look.reminder for look in same),
            share(sum(look.named for look in same), praise),
        )
        for phase, same in sorted(by_phase.items(), key=lambda item: (place(item[1]), item[0]))
    )
