"""A notice on the desktop for trouble in the middle of a lesson, by the platform's own means.

It is shown or it is not: nothing waits for it, and nothing fails with it.
"""

import logging
import os
import shutil
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Mapping

from companion.access import NO_WINDOW
from companion.background.glance import Glance, glance_at
from companion.live.state import LiveState

log = logging.getLogger(__name__)

TITLE = "Lesson Companion"
AGAIN_S = 60.0
"""The same trouble is not told again within this time."""
SHOWN_WITHIN_S = 10.0

_SCRIPT = ("on run argv", "display notification (item 2 of argv) with title (item 1 of argv)", "end run")
_TOAST = """
$ErrorActionPreference = 'Stop'
$space = 'Windows.UI.Notifications, ContentType = WindowsRuntime'
[type]::GetType("Windows.UI.Notifications.ToastNotificationManager, $space") > $null
$kind = [Windows.UI.Notifications.ToastTemplateType]::ToastText02
$xml = [Windows.UI.Notifications.ToastNotificationManager]::GetTemplateContent($kind)
$lines = $xml.GetElementsByTagName('text')
$lines.Item(0).AppendChild($xml.CreateTextNode($env:COMPANION_TITLE)) > $null
$lines.Item(1).AppendChild($xml.CreateTextNode($env:COMPANION_WORDS)) > $null
$app = '{1AC14E77-02E7-4E5D-B744-2EB1AE5198B7}\\WindowsPowerShell\\v1.0\\powershell.exe'
$toast = [Windows.UI.Notifications.ToastNotification]::new($xml)
[Windows.UI.Notifications.ToastNotificationManager]::CreateToastNotifier($app).Show($toast)
"""
"""Words come in by the environment: whatever they are, they are no part of the program."""


def command_for(
    platform: str, words: str, which: Callable[[str], str | None] = shutil.which
) -> tuple[list[str], Mapping[str, str]]:
    """Return what shows `words` on `platform` (as in `sys.platform`), and what it adds to the environment.

    which: finds a program. An empty command: there is nothing that could show them.
    """
    if platform == "darwin" and which("osascript"):
        return ["osascript", *(part for line in _SCRIPT for part in ("-e", line)), TITLE, words], {}
    if platform == "win32" and (shell := which("powershell")):
        told = {"COMPANION_TITLE": TITLE, "COMPANION_WORDS": words}
        return [shell, "-NoProfile", "-NonInteractive", "-Command", _TOAST], told
    if which("notify-send"):
        return ["notify-send", "--app-name", TITLE, "--urgency", "critical", "--", TITLE, words], {}
    if which("gdbus"):
        bus = "org.freedesktop.Notifications"
        call = [
            "gdbus",
            "call",
            "--session",
            "--dest",
            bus,
            "--object-path",
            "/org/freedesktop/Notifications",
        ]
        return [*call, "--method", f"{bus}.Notify", TITLE, "0", "", TITLE, words, "[]", "{}", "10000"], {}
    return [], {}


class Notices:
    """Tells of trouble as the lesson's states come in; once for each, and again after a while."""

    def __init__(self, show: Callable[[str], None] | None = None) -> None:
        """show: by default what the platform has."""
        self._show = show or _show_soon
        self._told = ""
        self._told_s = 0.0

    def follow(self, state: LiveState) -> None:
        """Take the newest state; return at once."""
        glance, words = glance_at(state)
        if glance is not Glance.TROUBLE or state.session is None:
            self._told = "" if glance is Glance.LISTENING else self._told
            return
        now_s = time.monotonic()
        if words != self._told or now_s - self._told_s > AGAIN_S:
            self._told, self._told_s = words, now_s
            self._show(words)


def _show_soon(words: str) -> None:
    threading.Thread(target=_show, args=(words,), name="notice", daemon=True).start()


def _show(words: str) -> None:
    command, told = command_for(sys.platform, words)
    if not command:
        return
    try:
        subprocess.run(  # noqa: S603 - a program of the desktop; the words are one argument of it
            command,
            env={**os.environ, **told},
            capture_output=True,
            timeout=SHOWN_WITHIN_S,
            check=False,
            creationflags=NO_WINDOW,
        )
    except (OSError, subprocess.TimeoutExpired) as error:
        log.debug("a notice could not be shown: %s", error)
