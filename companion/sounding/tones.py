"""Short tones that tell without a look what was just recorded.

Whoever plays one does so after the event is durable. A tone that can't be played is dropped: nothing waits
for it and nothing fails with it.
"""

import logging
import multiprocessing
import threading
from contextlib import suppress
from queue import Empty, Full, Queue

from companion.parent import child
from companion.sounding.player import play_all
from companion.sounding.sounds import Tone

log = logging.getLogger(__name__)

WAITING = 2
"""Tones that may wait for their turn; more would tell of things long past."""
LONGEST_S = 5.0
"""A player that takes longer for a tone hangs; it is replaced. Its own start is in it."""


HANGS = "the sound system does not answer"


class Tones:
    """Plays tones one after the other, in a process of their own."""

    def __init__(self, volume: float) -> None:
        """Make ready to play at `volume`, from 0 (off) to 1; it may be changed later."""
        self.volume = volume
        self._waiting: Queue[Tone | None] = Queue(WAITING)
        self._trouble = ""
        self._thread = threading.Thread(target=self._run, name="tones", daemon=True)

    def wake(self) -> None:
        """Make ready to play, so that the first tone is not late."""
        if self.volume > 0 and not self._thread.is_alive():
            self._thread.start()

    def play(self, tone: Tone) -> None:
        """Let `tone` sound as soon as may be; returns at once."""
        self.wake()
        if self.volume <= 0:
            return
        try:
            self._waiting.put_nowait(tone)
        except Full:
            log.debug("a tone was dropped: others are waiting")

    def close(self, patience_s: float = 1.0) -> None:
        """Let the tone that sounds come to its end, if it does so within `patience_s`."""
        if not self._thread.is_alive():
            return
        with suppress(Empty):
            while True:
                self._waiting.get_nowait()
        self._waiting.put(None)
        self._thread.join(patience_s)

    def _run(self) -> None:
        player = _Player()
        while (tone := self._waiting.get()) is not None:
            trouble = player.play(tone, self.volume)
            if trouble == HANGS:
                player.close()
                player = _Player()
            if trouble and trouble != self._trouble:
                log.warning("a tone could not be played: %s", trouble)
            self._trouble = trouble
        player.close()


class _Player:
    """The other process."""

    def __init__(self) -> None:
        self._pipe, theirs = multiprocessing.Pipe()
        self._process = child(play_all, theirs)
        self._process.start()
        theirs.close()

    def play(self, tone: Tone, volume: float) -> str:
        """Play `tone`; return "" or why it could not be played."""
        try:
            self._pipe.send((tone, volume))
            return str(self._pipe.recv()) if self._pipe.poll(LONGEST_S) else HANGS
        except (EOFError, OSError):
            return HANGS

    def close(self) -> None:
        """End it."""
        self._process.kill()
        self._process.join()
        self._pipe.close()
