"""The protocol that every spotter keeps."""

from collections.abc import Callable
from typing import Protocol

from companion.listening.candidate import Candidate
from companion.listening.sound import SAMPLE_RATE, Sound


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


NewSpotter = Callable[[], Spotter]
"""Opens a new spotter; what was learnt or loaded is shared by all that it opens."""


def hear_whole(spotter: Spotter, sound: Sound) -> list[Candidate]:
    """Let a spotter hear `sound` a tenth of a second at a time, to its end."""
    step = SAMPLE_RATE // 10
    blocks = [sound[at : at + step] for at in range(0, len(sound), step)]
    return [found for block in blocks for found in spotter.hear(block)] + spotter.finish()
