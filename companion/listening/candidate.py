"""What a spotter finds, and the protocol that every spotter keeps."""

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

SAMPLE_RATE = 16_000
"""Samples a second of all sound inside the companion (one channel, 16-bit integers)."""

Sound = NDArray[np.int16]
"""One-channel sound at `SAMPLE_RATE`."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """Sound that might have been a phrase.

    Times are milliseconds since the first sample that the spotter was given; a listener adds the
    session's own offset. A fired candidate becomes a mark, any other is a near miss.
    """

    phrase: str
    """Exactly one of the vocabulary's phrases (without the cue)."""
    begin_ms: int
    """Where the spoken form begins (the cue, where there is one)."""
    end_ms: int
    decided_ms: int
    """How much sound had been heard when the decision fell."""
    confidence: float
    """Calibrated probability, 0 to 1, that the phrase was said by the teacher as a command."""
    fired: bool
    engine: str
    reasons: tuple[str, ...] = ()
    """Plain words for the review: why it fired, or why it did not."""


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """What a spotter listens for: a closed set of phrases, each said right after the cue if there is one."""

    phrases: tuple[str, ...]
    cue: str | None = None
    language: str = "en"

    @property
    def openers(self) -> tuple[str, ...]:
        """What is listened for first: the cue alone where there is one, else every phrase."""
        return (self.cue,) if self.cue else self.phrases

    def spoken(self, phrase: str) -> str:
        """Return the whole spoken form of `phrase`, cue included."""
        return f"{self.cue} {phrase}" if self.cue else phrase


class Spotter(Protocol):
    """An engine, or a chain of them, that turns sound into candidates.

    One spotter serves one lesson and one thread. Blocks follow each other without a gap, in any
    lengths; a spotter that needs a fixed length keeps the rest itself.
    """

    name: str

    def hear(self, block: Sound) -> list[Candidate]:
        """Take the next block of sound and return what was decided by its end."""
        ...

    def finish(self) -> list[Candidate]:
        """Return what is still undecided at the end of the sound; afterwards the spotter is spent."""
        ...


def hear_whole(spotter: Spotter, sound: Sound) -> list[Candidate]:
    """Let a spotter hear `sound` a tenth of a second at a time, to its end."""
    step = SAMPLE_RATE // 10
    blocks = [sound[at : at + step] for at in range(0, len(sound), step)]
    return [found for block in blocks for found in spotter.hear(block)] + spotter.finish()
