"""An icon in the desktop's tray: how the companion is, by its shape; and a few things to do with it.

It runs as a process of its own (`python -m companion.background.tray HOME NUMBER`), which asks the running
companion: a desktop that has no tray, or one that breaks, costs no lesson anything. It goes with the
companion that started it: one that comes after a crash has an icon of its own.
"""

import importlib
import os
import subprocess
import sys
import threading
import webbrowser
from collections.abc import Callable
from contextlib import suppress
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import psutil
from PIL import Image, ImageDraw

from companion.background.control import Message, ask
from companion.background.glance import Glance
from companion.errors import CompanionError
from companion.language import ENGLISH, _, speak
from companion.lesson.command import Action
from companion.paths import Home
from companion.pressing.hotkeys import NO_SCREEN, obstacle_of
from companion.settings.chosen_language import chosen_language

SIZE = 64
INK, PAPER = "#1c2827", "#fffcf3"
LOOK_S = 1.0
MOST_MISSES = 5
"""So many times in a row nobody answers before the icon goes."""
END_WITHIN_S = 3.0


def picture_of(glance: Glance) -> Image.Image:
    """Return the icon: leaf on a disc (listening), two bars (paused), triangle (trouble), ring (off)."""
    image = Image.new("RGBA", (SIZE, SIZE), (0, 0, 0, 0))
    draw = ImageDraw.Draw(image)
    match glance:
        case Glance.LISTENING:
            draw.ellipse((2, 2, 62, 62), fill=INK, outline=PAPER, width=2)
            draw.polygon([(32, 8), (48, 26), (44, 44), (32, 56), (20, 44), (16, 26)], fill=PAPER)
        case Glance.PAUSED:
            draw.rectangle((12, 6, 26, 58), fill=INK, outline=PAPER, width=2)
            draw.rectangle((38, 6, 52, 58), fill=INK, outline=PAPER, width=2)
        case Glance.TROUBLE:
            draw.polygon([(32, 2), (62, 60), (2, 60)], fill=INK, outline=PAPER)
            draw.rectangle((29, 22, 35, 42), fill=PAPER)
            draw.rectangle((29, 47, 35, 53), fill=PAPER)
        case Glance.OFF:
            draw.ellipse((4, 4, 60, 60), outline=PAPER, width=12)
            draw.ellipse((6, 6, 58, 58), outline=INK, width=8)
    return image


class TrayProcess:
    """The process with the icon, where this desktop could have one."""

    def __init__(self, home: Home) -> None:
        self._home = home
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start it, and wait for nothing."""
        if find_spec("pystray") is None or obstacle_of(os.environ, sys.platform) == NO_SCREEN:
            return
        command = [
            sys.executable,
            "-m",
            "companion.background.tray",
            str(self._home.folder),
            str(os.getpid()),
        ]
        with suppress(OSError):
            self._process = subprocess.Popen(  # noqa: S603 - our own program
                command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
            )

    def close(self) -> None:
        """Take the icon away."""
        if self._process is None:
            return
        self._process.terminate()
        try:
            self._process.wait(END_WITHIN_S)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()


class TrayIcon:
    """The icon and its menu, over what `asked` answers, as long as the process `companion` lives."""

    def __init__(self, asked: Callable[[Message], Message], companion: psutil.Process) -> None:
        self._ask = asked
        self._companion = companion
        self._glance = Glance.OFF
        self._ended = threading.Event()
        pystray = importlib.import_module("pystray")
        self._icon: Any = pystray.Icon(
            "lesson-companion",
            picture_of(self._glance),
            "Lesson Companion",
            pystray.Menu(
                pystray.MenuItem(_("Open the board"), self._open, default=True),
                pystray.MenuItem(
                    lambda _item: (
                        _("Listen again") if self._glance is Glance.PAUSED else _("Pause listening")
                    ),
                    self._pause,
                    enabled=lambda _item: self._glance is not Glance.OFF,
                ),
                pystray.MenuItem(_("End the companion"), self._end),
            ),
        )

    def run(self) -> None:
        """Show the icon until the companion has ended."""
        self._icon.run(self._begin)

    def _begin(self, icon: Any) -> None:  # noqa: ANN401 - pystray has no types
        icon.visible = True
        threading.Thread(target=self._follow, name="tray", daemon=True).start()

    def _follow(self) -> None:
        misses = 0
        while misses < MOST_MISSES and not self._ended.wait(LOOK_S) and self._companion.is_running():
            try:
                told = self._ask({"do": "glance"})
            except CompanionError:
                misses += 1
                continue
            misses = 0
            self._show(Glance(told["glance"]), str(told["words"]))
        self._icon.stop()
        # Without a tray the toolkit's own loop does not end.
        os._exit(0)

    def _show(self, glance: Glance, words: str) -> None:
        if (glance, words) == (self._glance, self._icon.title):
            return
        self._glance = glance
        self._icon.icon, self._icon.title = picture_of(glance), words
        self._icon.update_menu()

    def _open(self) -> None:
        with suppress(CompanionError):
            webbrowser.open(Path(self._ask({"do": "pages", "to": "/"})["file"]).as_uri())

    def _pause(self) -> None:
        action = Action.RESUME if self._glance is Glance.PAUSED else Action.PAUSE
        with suppress(CompanionError):
            self._ask({"do": "command", "action": str(action)})

    def _end(self) -> None:
        self._ended.set()
        with suppress(CompanionError):
            self._ask({"do": "stop"})


def main(folder: str, number: str) -> None:
    """Show the icon of the companion in the home `folder`, whose process is `number`, until it has ended."""
    home = Home(Path(folder))
    speak(chosen_language(home.settings).own or ENGLISH)
    with suppress(psutil.NoSuchProcess):
        TrayIcon(lambda message: ask(home.control, message), psutil.Process(int(number))).run()


if __name__ == "__main__":
    main(*sys.argv[1:])
