"""Keeps the places where a phrase may have been said until it is clear what they are.

The window moves on, and the same place is looked at again and again: now well placed in it, now half outside.
What fires is decided as soon as a little more was heard. What does not is kept for a while, since a better
look may come, and keeps nothing better from firing.
"""

import math
from dataclasses import dataclass

from companion.listening.sound import SAMPLE_RATE

FIRING_LOG_ODDS = 0.0
SETTLED = int(0.24 * SAMPLE_RATE)
"""What fires is decided when so much was heard after its end."""
LINGERING = int(1.5 * SAMPLE_RATE)
"""What does not fire is decided so long after its end."""
APART = int(0.3 * SAMPLE_RATE)
"""Nothing is said again so soon after what fired."""


@dataclass(frozen=True, slots=True)
class Find:
    """A place where a phrase or the cue may have been said. Times are sample numbers."""

    phrase: str
    begin: int
    end: int
    log_odds: float
    fit: float
    likeness: float

    @property
    def fires(self) -> bool:
        """Whether it is likely enough for a mark."""
        return self.log_odds >= FIRING_LOG_ODDS


class Finds:
    """The finds that are still open. Times are sample numbers."""

    def __init__(self) -> None:
        self._open: list[Find] = []
        self._closed_until = 0

    def add(self, find: Find) -> None:
        """Keep a find, unless a likelier one overlaps it or something else was decided there."""
        rivals = [old for old in self._open if old.begin < find.end and find.begin < old.end]
        if find.begin >= self._closed_until and all(find.log_odds > rival.log_odds for rival in rivals):
            self._open = [old for old in self._open if old not in rivals] + [find]

    def close(self, until: int) -> None:
        """Let nothing begin before `until` any more."""
        self._closed_until = max(self._closed_until, until)
        self._open = [find for find in self._open if find.begin >= self._closed_until]

    @property
    def settles(self) -> float:
        """When something is decided next, if nothing else comes: a sample number, or infinity."""
        return min((find.end + SETTLED for find in self._open if find.fires), default=math.inf)

    def decided(self, heard_until: int, *, over: bool) -> list[Find]:
        """Take out what is decided, in order.

        over: no more is heard of this stretch, so that everything is.
        """
        ripe = [
            find
            for find in sorted(self._open, key=lambda find: find.begin)
            if over or find.end <= heard_until - (SETTLED if find.fires else LINGERING)
        ]
        self._open = [find for find in self._open if find not in ripe]
        for find in ripe:
            if find.fires:
                self.close(find.end + APART)
        return ripe
