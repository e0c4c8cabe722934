"""Learns a voice in a process of its own: the companion goes on, and its memory stays small."""

import multiprocessing
import os
import threading
from collections.abc import Callable
from multiprocessing.connection import Connection

from companion.errors import CompanionError
from companion.language import _, speak, spoken
from companion.parent import child


class LearningApart:
    """Begins to learn at once; how far it has come can be looked at."""

    def __init__(self, teach: Callable[..., tuple[str, ...]]) -> None:
        """teach: learns, keeps what it learnt, and returns what to tell; `on_part` hears how far it is."""
        self.done = 0.0
        """The share (0 to 1) of what is to be listened to."""
        self.sentences: tuple[str, ...] = ()
        """What to expect, when it is over."""
        self.trouble: CompanionError | None = None
        """Why nothing was learnt."""
        self._pipe, theirs = multiprocessing.Pipe(duplex=False)
        self._process = child(_learn, theirs, teach, spoken())
        self._process.start()
        theirs.close()
        threading.Thread(target=self._follow, name="learning", daemon=True).start()

    @property
    def is_over(self) -> bool:
        """Whether it has come to its end, whichever."""
        return bool(self.sentences) or self.trouble is not None

    def stop(self) -> None:
        """End it; what was learnt before is as it was."""
        self._process.kill()

    def _follow(self) -> None:
        while not self.is_over:
            try:
                match self._pipe.recv():
                    case float(done):
                        self.done = done
                    case CompanionError() as error:
                        self.trouble = error
                    case sentences:
                        self.sentences = sentences
            except (EOFError, OSError):
                self.trouble = self.trouble or ended()
        self._process.join()


def ended() -> CompanionError:
    """Return what is told where the process has gone before its end."""
    return CompanionError(
        _("Learning has ended unexpectedly."), safe=_("What was learnt before is as it was.")
    )


def _learn(pipe: Connection, teach: Callable[..., tuple[str, ...]], language: str) -> None:
    speak(language)
    if hasattr(os, "nice"):
        os.nice(10)
    try:
        pipe.send(teach(on_part=lambda done: pipe.send(float(done))))
    except CompanionError as error:
        pipe.send(error)
