"""Which phases get judged: a phase without a mark is neither praised nor reminded."""

from collections.abc import Iterable
from dataclasses import dataclass

from companion.language import many
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
        return many(
            "{phase} got a mark in {marked} of {count} lesson.",
            "{phase} got a mark in {marked} of {count} lessons.",
            self.judged.total,
            phase=self.phase,
            marked=self.judged.count,
        )


def coverage(looks: Iterable[PhaseLook]) -> tuple[Coverage, ...]:
    """Return the coverage of each phase, in the order of the lesson."""
    return tuple(
        Coverage(
            look.phase,
            share(look.judged, look.held),
            look.praise,
            look.reminder,
            share(look.named, look.praise),
        )
        for look in sorted(looks, key=lambda look: (look.place, look.phase))
    )
