"""A cue of the teacher's own, learnt from synthetic voices, so that it is heard before any rehearsal."""

import multiprocessing
import threading
from multiprocessing.connection import Connection
from pathlib import Path

from companion.errors import CompanionError
from companion.language import speak, spoken
from companion.listening.detection.synthesiser import say
from companion.listening.voice.cues import keep_cue, learn_cue
from companion.pages.exercises.learning_apart import ended
from companion.parent import child


class TaughtCue:
    """Begins to learn at once, in a process of its own."""

    step = "cue"

    def __init__(self, cue: str, folder: Path) -> None:
        self.cue = cue
        self.over = False
        self.trouble: CompanionError | None = None
        self._pipe, theirs = multiprocessing.Pipe(duplex=False)
        self._process = child(_teach, theirs, cue, folder, spoken())
        self._process.start()
        theirs.close()
        threading.Thread(target=self._follow, name="learning a cue", daemon=True).start()

    @property
    def stamp(self) -> str:
        """What changes when it is over."""
        return f"{self.cue}-{self.over}"

    @property
    def level_dbfs(self) -> float | None:
        """No microphone is open."""
        return None

    def rest(self) -> None:
        """Go on all the same: no microphone is open."""

    def _follow(self) -> None:
        try:
            self.trouble = self._pipe.recv()
        except (EOFError, OSError):
            self.trouble = ended()
        self._process.join()
        self.over = True


def _teach(pipe: Connection, cue: str, folder: Path, language: str) -> None:
    speak(language)
    try:
        keep_cue(folder, learn_cue(cue, say(cue)))
        pipe.send(None)
    except CompanionError as error:
        pipe.send(error)
