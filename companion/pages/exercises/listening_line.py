"""A microphone that an exercise listens to, block by block, on a thread of its own."""

import queue
import threading
from collections.abc import Callable

from companion.listening.microphone.capture import Block, Microphone
from companion.listening.microphone.trouble import Trouble

WAIT_S = 0.1


class ListeningLine:
    """Hands each block of sound to `hear` until `close`."""

    def __init__(self, name: str | None, hear: Callable[[Block], None]) -> None:
        """Begin to open the microphone called `name` (None: the system's own choice), and return at once."""
        self.heard = False
        """Whether any sound has come."""
        self._microphone = Microphone(name, lambda *_: None)
        self._hear = hear
        self._closed = threading.Event()
        self._thread = threading.Thread(target=self._run, name="exercise", daemon=True)
        self._thread.start()

    @property
    def level_dbfs(self) -> float:
        """Loudness of the newest sound."""
        return self._microphone.level_dbfs

    @property
    def trouble(self) -> Trouble | None:
        """What is wrong with it."""
        return self._microphone.trouble

    def close(self) -> None:
        """Give the device back."""
        self._closed.set()
        self._microphone.close()

    def _run(self) -> None:
        while not self._closed.is_set():
            try:
                block = self._microphone.blocks.get(timeout=WAIT_S)
            except queue.Empty:
                continue
            self.heard = True
            self._hear(block)
