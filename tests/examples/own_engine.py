"""An engine of one's own: two loud knocks within a second are praise.

Usage: python tests/examples/own_engine.py SOUND
"""

import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from companion.listening.candidate import Candidate
from companion.listening.microphone.files import whole
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.listening.spotter import hear_whole

LOUD, APART_MS, WITHIN_MS = 12_000, 100, 1_000


class Knocks:
    """Keeps the protocol `companion.listening.spotter.Spotter`: blocks in, candidates out."""

    name = "knocks"

    def __init__(self) -> None:
        """Begin with silence."""
        self._heard = 0
        self._knock_ms = -WITHIN_MS

    def hear(self, block: Sound) -> list[Candidate]:
        """Return what was decided by the end of this block, which may have any length."""
        return list(self._candidates(block))

    def finish(self) -> list[Candidate]:
        """Return what is still undecided: nothing, a knock alone is none."""
        return []

    def _candidates(self, block: Sound) -> Iterator[Candidate]:
        loud = np.flatnonzero(np.abs(block.astype(np.int32)) > LOUD)
        begin, self._heard = self._heard, self._heard + len(block)
        for at_ms in ((begin + int(sample)) * 1000 // SAMPLE_RATE for sample in loud):
            before, decided_ms = at_ms - self._knock_ms, self._heard * 1000 // SAMPLE_RATE
            if before >= APART_MS:
                if before <= WITHIN_MS:
                    yield Candidate("praise", self._knock_ms, at_ms, decided_ms, 0.9, True, self.name)
                self._knock_ms = at_ms


if __name__ == "__main__":
    for found in hear_whole(Knocks(), whole(Path(sys.argv[1]))):
        print(f"{found.begin_ms / 1000:.1f} s: {found.phrase}")
