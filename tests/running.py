"""A companion as a process of its own, in a home of its own."""

import os
import subprocess
import sys
from pathlib import Path
from typing import Any

from companion.background.control import NotRunningError, ask
from companion.errors import CompanionError
from companion.paths import Home
from tests.waiting import until


class Companion:
    """Starts and ends `companion run` on a home, and talks to it."""

    def __init__(self, folder: Path, settings: str) -> None:
        """Write the settings; nothing runs yet."""
        self.home = Home(folder).create()
        self.home.settings.write_text(settings, encoding="utf-8")
        self._process: subprocess.Popen[bytes] | None = None

    @property
    def process(self) -> subprocess.Popen[bytes]:
        """The process that was started last."""
        assert self._process is not None
        return self._process

    def start(self) -> None:
        """Start it, and wait until it answers."""
        with (self.home.folder / "errors.txt").open("ab") as errors:
            command = [sys.executable, "-m", "companion", "--home", str(self.home.folder), "run"]
            self._process = subprocess.Popen(command, stdout=errors, stderr=errors, start_new_session=True)
        if not until(self.answers, limit_s=60):
            self.kill()
            raise AssertionError((self.home.folder / "errors.txt").read_text())

    def kill(self) -> None:
        """Take the power away."""
        self.process.kill()
        self.process.wait()

    def end(self) -> int:
        """End it as a logout does, and return its status."""
        if self.process.poll() is None:
            self.process.terminate()
        return self.process.wait(60)

    def answers(self) -> bool:
        """Whether it can be asked."""
        try:
            self.ask(do="status")
        except NotRunningError:
            return False
        return True

    def ask(self, **request: str | None) -> dict[str, Any]:
        """Ask it something. Raises CompanionError as the command line does."""
        return ask(self.home.control, request)

    def mark(self, kind: str = "praise") -> dict[str, Any] | None:
        """Make a mark; None if nobody confirmed it."""
        try:
            return self.ask(do="command", action=kind)
        except CompanionError:
            return None

    def command(self, *words: str) -> subprocess.CompletedProcess[str]:
        """Run a command line of the companion on this home."""
        return subprocess.run(
            [sys.executable, "-m", "companion", "--home", str(self.home.folder), *words],
            capture_output=True,
            text=True,
            timeout=120,
            check=False,
            env={**os.environ, "COLUMNS": "120"},
        )
