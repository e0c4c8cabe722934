"""The last seconds of sound, in memory only, so that the review can play what a candidate sounded like."""

from collections import deque

import numpy as np

from companion.listening.sound import SAMPLE_RATE, Sound

KEPT_S = 70
"""Longer than a recogniser may be behind, so that a late decision still finds its sound."""
BEFORE_S, AFTER_S = 1.5, 1.0


class Recent:
    """Sound of the last `KEPT_S`, on the same clock as a spotter's candidates."""

    def __init__(self) -> None:
        self._blocks: deque[Sound] = deque()
        self._first = 0
        self._end = 0

    def hear(self, block: Sound) -> None:
        """Take the block that the spotter is given."""
        self._blocks.append(block)
        self._end += len(block)
        while self._end - self._first - len(self._blocks[0]) >= KEPT_S * SAMPLE_RATE:
            self._first += len(self._blocks.popleft())

    def cut(
        self, begin_ms: int, end_ms: int, *, before_s: float = BEFORE_S, after_s: float = AFTER_S
    ) -> Sound:
        """Return the sound from `begin_ms` to `end_ms` and a little around it, as far as it is there."""
        if not self._blocks:
            return np.zeros(0, np.int16)
        begin = round((begin_ms / 1000 - before_s) * SAMPLE_RATE) - self._first
        end = round((end_ms / 1000 + after_s) * SAMPLE_RATE) - self._first
        return np.concatenate(self._blocks)[max(0, begin) : max(0, end)]
