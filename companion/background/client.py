"""The companion that runs, as other processes see it: whether it does, starting and stopping it."""

import subprocess
import sys
import threading
import time
from collections.abc import Callable
from contextlib import suppress

from companion.access import NO_WINDOW
from companion.background.control import Message, NoAnswerError, NotRunningError, ask
from companion.background.lock import is_held
from companion.errors import CompanionError
from companion.language import _
from companion.paths import Home, private_folder

START_WITHIN_S = 30.0

STOP_WITHIN_S = 20.0


def is_running(home: Home) -> bool:
    """Whether a companion runs on `home`."""
    return is_held(home.run)


def start(home: Home, *, mend: bool = False) -> Message:
    """Start the companion in the background, and return its status when it is up.

    mend: with settings that can't be used it comes up all the same, with the pages that mend them.

    Raises CompanionError if one runs already or if it does not come up.
    """
    if is_running(home):
        raise CompanionError(
            _("The companion is running already."), remedy=_("See how it is: companion status")
        )
    command = [sys.executable, "-m", "companion", "--home", str(home.folder), "run", *["--mend"] * mend]
    error_file = private_folder(home.run) / "start.txt"
    with error_file.open("wb") as errors:
        process = subprocess.Popen(  # noqa: S603
            command,
            stdin=subprocess.DEVNULL,
            stdout=errors,
            stderr=errors,
            start_new_session=True,
            # Detached, it would have no console, and each process that it starts a window of its own.
            creationflags=NO_WINDOW,
        )
    end_s = time.monotonic() + START_WITHIN_S
    while time.monotonic() < end_s:
        if process.poll() is not None:
            said = error_file.read_text(encoding="utf-8", errors="replace").strip().splitlines()
            raise CompanionError(said[-1] if said else _("The companion could not be started."))
        with suppress(NotRunningError):
            status = ask(home.control, {"do": "status"})
            # Where pages have started it, it may end before them, and is to leave nothing of its process.
            threading.Thread(target=process.wait, name="companion", daemon=True).start()
            return status
        time.sleep(0.1)
    raise CompanionError(
        _("The companion does not come up."), remedy=_("See {path}.", path=home.run / "companion.log")
    )


def stop(home: Home, tell: Callable[[str], None]) -> None:
    """Stop the companion that runs, and return when it has ended. Raises CompanionError if it does not.

    tell: is called with a sentence for one that is ending already.
    """
    if not is_running(home):
        raise CompanionError(_("The companion was not running."), safe=_("There is nothing to stop."))
    asked, told, end_s = False, False, time.monotonic() + STOP_WITHIN_S
    while time.monotonic() < end_s:
        try:
            if not asked:
                ask(home.control, {"do": "stop"})
                asked = True
        except NoAnswerError:
            # Its address goes when it ends; one that only begins has none yet, and is asked again.
            if home.control.exists():
                raise
            if not told:
                tell(_("The companion is ending already; it is waited for."))
                told = True
        except NotRunningError:
            return
        if not is_running(home):
            return
        time.sleep(0.1)
    raise CompanionError(_("The companion does not stop."), remedy=_("Log out, or end it in the task list."))
