"""A companion that is begun, asked and killed again and again on one home."""

import os
import select
import subprocess
import sys
import time
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from signal import SIGKILL, SIGTERM

import psutil

from companion.background.control import Message, NotRunningError, ask
from companion.errors import CompanionError
from companion.paths import Home
from tests.torture.zygote import Zygote

UP_WITHIN_S = 180.0
GONE_WITHIN_S = 20.0
"""How long what a killed companion had started may outlive it."""
LOOK_S = 0.01


class Victim:
    """The companion of `home`, of which at most one runs."""

    def __init__(self, home: Home, zygote: Zygote, environment: Mapping[str, str], words: Path) -> None:
        """environment: of one that listens. words: the file for what it prints."""
        self.home = home
        self._zygote = zygote
        self._environment = environment
        self._words = words
        self._pid = self._handle = 0
        self._address_before = self._address
        self.listens = False
        """Whether its microphone is to be open; else it is asked to close it."""
        self._process: subprocess.Popen[bytes] | None = None

    def begin(self, *, listens: bool = False) -> None:
        """Begin it and return at once.

        One that listens begins in a Python of its own, else it is forked from the zygote.
        """
        self.listens = listens
        self._words.unlink(missing_ok=True)
        self._address_before = self._address
        if listens:
            command = [sys.executable, "-m", "companion", "--home", str(self.home.folder), "run"]
            environment = {**os.environ, **self._environment}
            with self._words.open("wb") as words:
                self._process = subprocess.Popen(
                    command, stdout=words, stderr=words, start_new_session=True, env=environment
                )
            self._pid = self._process.pid
        else:
            self._process = None
            self._pid = self._zygote.run(self.home.folder, self._words)
        self._handle = os.pidfd_open(self._pid)

    def comes_up(self) -> bool:
        """Wait until it answers, and return whether it does; it may end before, or be killed."""
        end_s = time.monotonic() + UP_WITHIN_S
        while self.lives:
            try:
                if self._address == self._address_before:
                    raise NotRunningError
                self.look()
            except NotRunningError:
                assert time.monotonic() < end_s, f"it does not come up: {self.words}"
                time.sleep(LOOK_S)
            except CompanionError:
                # No session is open, or the log can't be written.
                return True
            else:
                return True
        return False

    def look(self) -> Message:
        """Ask for what is already so, and so learn how the session is. Raises CompanionError as `ask`."""
        return self.ask(do="command", action="resume listening" if self.listens else "pause listening")

    def ask(self, **message: str | None) -> Message:
        """Ask it something. Raises CompanionError as the command line does."""
        return ask(self.home.control, dict(message))

    @property
    def _address(self) -> tuple[int, int]:
        """What changes when a companion says anew where it is reached."""
        try:
            file = self.home.control.stat()
        except OSError:
            return 0, 0
        return file.st_ino, file.st_mtime_ns

    @property
    def lives(self) -> bool:
        """Whether one runs."""
        return bool(self._handle) and not select.select([self._handle], [], [], 0)[0]

    @property
    def words(self) -> str:
        """What it has printed."""
        return self._words.read_text(errors="replace") if self._words.exists() else ""

    @property
    def children(self) -> list[psutil.Process]:
        """The processes that it has started."""
        with suppress(psutil.NoSuchProcess):
            return psutil.Process(self._pid).children(recursive=True)
        return []

    def kill(self) -> None:
        """Take the power away from it, and from nothing that it has started."""
        with suppress(ProcessLookupError):
            os.kill(self._pid, SIGKILL)

    def ask_to_end(self) -> None:
        """Ask it to end as a logout does."""
        with suppress(ProcessLookupError):
            os.kill(self._pid, SIGTERM)

    def end(self) -> int:
        """End it as a logout does, and return its exit status."""
        self.ask_to_end()
        return self.wait()

    def wait(self) -> int:
        """Wait until it has ended, and return its exit status, or the negative number of a signal."""
        assert select.select([self._handle], [], [], UP_WITHIN_S)[0], "it does not end"
        os.close(self._handle)
        self._handle = 0
        return self._process.wait() if self._process else self._zygote.wait(self._pid)


def left_behind(children: list[psutil.Process]) -> list[str]:
    """Return the command lines of those `children` that outlive the one who started them for too long."""
    _, alive = psutil.wait_procs(children, timeout=GONE_WITHIN_S)
    left = []
    for child in alive:
        with suppress(psutil.NoSuchProcess):
            left.append(" ".join(child.cmdline()))
    return left
