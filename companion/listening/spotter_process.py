"""A spotter in a process of its own.

A recogniser may hold Python's one lock for seconds, grow, or crash inside native code. Here it does so
without keeping the microphone or a key waiting, and its memory goes with the lesson.
"""

import multiprocessing
import queue
import signal
import threading
from collections.abc import Callable
from contextlib import suppress
from multiprocessing.connection import Connection

import numpy as np

from companion.errors import CompanionError
from companion.language import later
from companion.listening.candidate import Candidate
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.listening.spotter import NewSpotter
from companion.parent import child

WAITING_S = 60
"""Sound that may wait for a recogniser that is behind; what it says then comes late, but rightly dated."""
FINISH_WITHIN_S = 30.0


class ProcessSpotter:
    """A `Spotter` whose `hear` never waits: it returns what has been decided in the meantime.

    open_spotter: runs in the other process and so must be picklable, as `functools.partial` of a
    function of a module is.
    """

    def __init__(self, open_spotter: NewSpotter) -> None:
        ours, theirs = multiprocessing.Pipe()
        self.name = ""
        """The engine's own, once it is open."""
        self.on_found: Callable[[], None] = lambda: None
        """Called from a thread of its own when something was decided that `hear` will return."""
        self._pipe = ours
        self._unsent: queue.SimpleQueue[Sound | None] = queue.SimpleQueue()
        self._received: queue.SimpleQueue[CompanionError | str | tuple[int, list[Candidate]]] = (
            queue.SimpleQueue()
        )
        self._given = self._taken = 0
        self._process = child(_spot, theirs, open_spotter)
        self._process.start()
        theirs.close()
        threading.Thread(target=self._send, name="sound to the recogniser", daemon=True).start()
        threading.Thread(target=self._receive, name="words of the recogniser", daemon=True).start()

    @property
    def pid(self) -> int:
        """The number of its process."""
        assert self._process.pid is not None
        return self._process.pid

    def hear(self, block: Sound) -> list[Candidate]:
        """Pass `block`, which may be empty, on and return what was decided since the last call.

        Raises CompanionError if the recogniser can't be opened, has ended, or is hopelessly behind.
        """
        if len(block):
            self._given += len(block)
            self._unsent.put(block)
        found: list[Candidate] = []
        while not self._received.empty():
            found += self._take_up(self._received.get())
        if self._given - self._taken > WAITING_S * SAMPLE_RATE:
            self.close()
            raise CompanionError(later("the computer is too slow for the recogniser"))
        return found

    def finish(self) -> list[Candidate]:
        """Return what is still undecided, after waiting for it, and end the process."""
        self._unsent.put(None)
        found: list[Candidate] = []
        try:
            with suppress(queue.Empty):
                while self._taken != FINISHED:
                    found += self._take_up(self._received.get(timeout=FINISH_WITHIN_S))
        finally:
            self.close()
        return found

    def settle(self) -> list[Candidate]:
        """Wait until everything that was passed on is decided; return that."""
        found: list[Candidate] = []
        with suppress(queue.Empty):
            while self._taken < self._given:
                found += self._take_up(self._received.get(timeout=FINISH_WITHIN_S))
        return found

    def close(self) -> None:
        """End the process at once."""
        self._unsent.put(None)
        self._process.kill()
        self._process.join()

    def _take_up(self, said: CompanionError | str | tuple[int, list[Candidate]]) -> list[Candidate]:
        match said:
            case CompanionError():
                self._received.put(said)
                raise said
            case str():
                self.name = said
                return []
            case (taken, found):
                self._taken = taken
                return found

    def _receive(self) -> None:
        try:
            while True:
                said = self._pipe.recv()
                self._received.put(said)
                match said:
                    case CompanionError():
                        return
                    case (_, [_, *_]):
                        self.on_found()
        except (EOFError, OSError):
            self._received.put(CompanionError(later("the recogniser has ended unexpectedly")))

    def _send(self) -> None:
        try:
            while (block := self._unsent.get()) is not None:
                self._pipe.send_bytes(block.tobytes())
            self._pipe.send_bytes(b"")
        except (BrokenPipeError, OSError):
            return


FINISHED = -1
"""Sent in place of the number of samples taken, with the last candidates."""


def _spot(pipe: Connection, open_spotter: NewSpotter) -> None:
    """Serve one spotter; ends when the other side does."""
    # Ctrl+C goes to both processes, and must not take away what was said last; the other side ends us.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    taken = 0
    try:
        spotter = open_spotter()
        pipe.send(spotter.name)
        while data := pipe.recv_bytes():
            block = np.frombuffer(data, np.int16)
            taken += len(block)
            pipe.send((taken, spotter.hear(block)))
        pipe.send((FINISHED, spotter.finish()))
        pipe.recv_bytes()
    except (EOFError, OSError):
        return
    except CompanionError as error:
        pipe.send(error)
