"""What the pages may ask of the program around them, as the running companion does it."""

import os
import sys
import threading
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path

from companion.background.autostart import AutostartEntry, command_for, entry_for, switch_off, switch_on
from companion.background.client import is_running, start
from companion.background.control import ask
from companion.background.doctor import examine
from companion.errors import CompanionError
from companion.language import _
from companion.lesson.child_code import CODE_WORDS, is_child_code
from companion.live.forgetting import Forgetting, finish, forget_due, forget_for_good
from companion.log.forget import CHILD, one_child
from companion.log.store import open_log
from companion.pages.house import Finding
from companion.paths import Home
from companion.settings.settings import load_settings


class CompanionHouse:
    """The house of `home`: of the companion that runs in this process, or of pages that stand alone."""

    def __init__(self, home: Home, clock: Callable[[], datetime], stop: threading.Event | None) -> None:
        """stop: ends the companion in this process; None where none runs in it."""
        self.runs = stop is not None
        self._home = home
        self._clock = clock
        self._stop = stop

    def examine(self) -> Iterator[Finding]:
        """Yield a finding for each thing that a lesson needs, as soon as it is known."""
        return examine(self._home)

    def start(self) -> str:
        """Start the companion in the background, if it does not run, and return an address of its pages.

        The address lets in once.
        """
        if not is_running(self._home):
            start(self._home, mend=True)
        return str(ask(self._home.control, {"do": "pages", "to": "/"})["address"])

    def end(self) -> None:
        """End the companion in this process."""
        if self._stop is None:
            raise CompanionError(_("The companion does not run."), safe=_("There is nothing to end."))
        self._stop.set()

    def starts_with_login(self) -> bool | None:
        """Return whether there is an entry that starts the companion; None on an unknown system."""
        try:
            return self._entry().path.exists()
        except CompanionError:
            return None

    def start_with_login(self, *, on: bool) -> None:
        """Write that entry, or take it away."""
        if on:
            switch_on(self._entry())
        else:
            switch_off(self._entry())

    def forget_due(self) -> str:
        """Forget what was kept as long as the settings say."""
        settings = load_settings(self._home.settings)
        finish(self._home)
        return _told(forget_due(self._home, settings, self._clock()))

    def forget_child(self, code: str) -> str:
        """Forget all notes about a child, and its initials everywhere."""
        if not is_child_code(code):
            raise CompanionError(
                _("A child is {code_words}, and '{code}' is neither.", code_words=_(CODE_WORDS), code=code),
                safe=_("Nothing was changed."),
            )
        open_log(self._home.log).close()
        return _told(forget_for_good(self._home, one_child(code), CHILD, self._clock()))

    def _entry(self) -> AutostartEntry:
        return entry_for(sys.platform, Path.home(), command_for(self._home), dict(os.environ))


def _told(done: Forgetting) -> str:
    """Say how much is gone. Raises CompanionError if it stands still in a file."""
    if done.held:
        raise CompanionError(
            _("It still stands in: {files}.", files=", ".join(map(str, done.held))),
            safe=_("It is gone from the log."),
            remedy=_("Delete these files when you need them no more."),
        )
    return _("Forgotten for good: {words}.", words=done.words)
