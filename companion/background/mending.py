"""The companion while its settings can't be used: only the pages, on which they are mended."""

import threading

from companion.background.control import ControlServer, Message
from companion.background.house import CompanionHouse
from companion.clock import ComputerClock
from companion.errors import CompanionError
from companion.language import _
from companion.log.store import open_log
from companion.pages.port import LogPort
from companion.pages.serve import PageServer
from companion.paths import Home
from companion.settings.watch import SettingsWatch

LOOK_S = 1.0


def usable_settings(home: Home, stop: threading.Event) -> SettingsWatch | None:
    """Return the settings as soon as they can be used, the pages being served until then; None if stopped."""
    try:
        return SettingsWatch(home.settings)
    except CompanionError as error:
        trouble = str(error)
    clock = ComputerClock().wall
    open_log(home.create().log).close()
    pages = PageServer(home, LogPort(home.log, clock), clock, CompanionHouse(home, clock, stop)).start()
    control = ControlServer(home.control, _Answers(pages, stop, trouble).answer)
    try:
        while not stop.wait(LOOK_S):
            try:
                return SettingsWatch(home.settings)
            except CompanionError:
                continue
    finally:
        control.close()
        pages.stop()
    return None


class _Answers:
    """What can be asked meanwhile."""

    def __init__(self, pages: PageServer, stop: threading.Event, trouble: str) -> None:
        self._pages = pages
        self._stop = stop
        self._trouble = trouble

    def answer(self, message: Message) -> Message:
        """Do what `message` asks. Raises CompanionError for everything that needs settings."""
        match message:
            case {"do": "status"}:
                return {"trouble": self._trouble}
            case {"do": "pages", "to": str(to)}:
                return {"address": self._pages.address(to), "file": str(self._pages.file(to))}
            case {"do": "stop"}:
                self._stop.set()
                return {}
        raise CompanionError(
            _("The settings can't be used as they are."),
            safe=_("What was recorded is untouched."),
            remedy=_("Mend them on the page that opens with: companion"),
        )
