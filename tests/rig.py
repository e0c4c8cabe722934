"""A screen of the tests' own, and a hand on its keyboard. The microphone is in `rig_sound.py`."""

import os
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

import pytest

from tests.systems import skip_beyond_linux


@dataclass(frozen=True)
class Screen:
    """A virtual X screen. Key names are X's own: F9, Prior (page up), Next (page down), ctrl, alt, p."""

    display: str
    server: subprocess.Popen[bytes]

    def down(self, *keys: str) -> None:
        """Press `keys` in turn and keep them down."""
        self.press("keydown", *keys)

    def up(self, *keys: str) -> None:
        """Release `keys` in turn."""
        self.press("keyup", *keys)

    def tap(self, key: str, held_s: float = 0.05) -> None:
        """Press `key` as long as a finger does."""
        self.press("keydown", key, "sleep", str(held_s), "keyup", key)

    def go_dark(self) -> None:
        """Let the screen's server die."""
        self.server.kill()
        self.server.wait()

    def press(self, *words: str) -> None:
        """Run `xdotool` with `words`: several presses in one call follow each other without delay."""
        environment = {**os.environ, "DISPLAY": self.display}
        subprocess.run(["xdotool", *words], env=environment, check=True, timeout=20)


@contextmanager
def open_screen(display: str | None = None) -> Iterator[Screen]:
    """Start a virtual screen on `display`, or on the first free one, and end it afterwards."""
    read_end, write_end = os.pipe()
    number = ["-displayfd", str(write_end)] if display is None else [display, "-displayfd", str(write_end)]
    command = ["Xvfb", *number, "-screen", "0", "1280x800x24", "-nolisten", "tcp", "-noreset"]
    server = subprocess.Popen(
        command, pass_fds=[write_end], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    os.close(write_end)
    try:
        with os.fdopen(read_end) as ready:
            shown = ready.readline().strip()
        assert shown, f"Xvfb did not start: {command}"
        yield Screen(f":{shown}", server)
    finally:
        server.kill()
        server.wait()


@pytest.fixture
def screen(monkeypatch: pytest.MonkeyPatch) -> Iterator[Screen]:
    """Give the test a screen of its own, named by $DISPLAY."""
    skip_beyond_linux()
    with open_screen() as opened:
        monkeypatch.setenv("DISPLAY", opened.display)
        monkeypatch.delenv("WAYLAND_DISPLAY", raising=False)
        monkeypatch.delenv("XDG_SESSION_TYPE", raising=False)
        yield opened


@pytest.fixture
def no_screen(monkeypatch: pytest.MonkeyPatch) -> None:
    """Give the test a machine without a screen."""
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "XDG_SESSION_TYPE"):
        monkeypatch.delenv(name, raising=False)
