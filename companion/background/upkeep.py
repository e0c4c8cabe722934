"""What the companion does for the log beside the lessons: look at it, back it up, forget in time."""

import logging
import threading
import time
from collections.abc import Callable, Sequence
from datetime import date, datetime
from pathlib import Path

from companion.errors import CompanionError
from companion.language import _
from companion.lesson.day_words import weekday
from companion.live.forgetting import finish, forget_due
from companion.live.live import Live
from companion.log.copies import back_up_day, damage_words, newest_good, set_aside, waiting
from companion.log.damage import NEWEST, Damage, damages, damages_aside
from companion.pages.keys import close_all
from companion.paths import Home

log = logging.getLogger(__name__)

LOOK_S = 30.0
LOOKS, BETWEEN_LOOKS_S = 4, 0.5
"""A log is set aside only after so many looks: a stick or a share may have been away for a moment."""
QUIET_S = 3600.0
"""So long after the last lesson its day is taken to be over."""


def look_at_log(home: Home, now: datetime) -> str:
    """Look whether the log is as it was recorded, before anything is written into it; return what is wrong.

    The pages of the whole file are looked at, and that no event is missing; of the sessions only the newest
    are read, so that a start is quick after years of lessons, too: `Upkeep` reads them all each day. A file
    that is damaged as a whole is set aside untouched: lessons go on in a new one.

    Raises CompanionError if the disk does not let us.
    """
    found = _damages_that_stay(home)
    if not any(not damage.session for damage in found):
        return _news(home, found)
    words = damage_words(home.log, found)
    log.error("%s It is set aside as %s", words, set_aside(home.log, now).name)
    return _news(home, [])


def _damages_that_stay(home: Home) -> list[Damage]:
    """Return what is wrong with the log; as a whole only if it is so at each of several looks.

    SQLite calls a file malformed that the disk could not read (SQLITE_IOERR_CORRUPTFS).
    """
    for _look in range(LOOKS - 1):
        found = damages(home.log, newest=NEWEST)
        if all(damage.session for damage in found):
            return found
        time.sleep(BETWEEN_LOOKS_S)
    return damages(home.log, newest=NEWEST)


def damage_now(home: Home) -> tuple[str, ...]:
    """Return what is wrong with the log as it lies there, or was, and what to do; () where all is well."""
    return _words_and_way(home, damages(home.log, newest=NEWEST))


def _news(home: Home, found: Sequence[Damage]) -> str:
    """Return what is to be told of the log, with its remedy; "" where all is well."""
    return " ".join(_words_and_way(home, found))


def _words_and_way(home: Home, found: Sequence[Damage]) -> tuple[str, ...]:
    aside = bool(waiting(home.log))
    if not found and not aside:
        return ()
    good = newest_good(home.log)
    way = (
        _(
            "Take up the backup of {day}: companion log restore. Or save what is readable: companion log "
            "salvage.",
            day=good.at,
        )
        if good
        else _("Save what is readable: companion log salvage.")
    )
    if aside:
        words = _(
            "The session log was damaged and was set aside untouched; lessons go into a new one, and both "
            "become one again."
        )
        return words, way
    return damage_words(home.log, found), way


LOG, DOORS, BACKUP, SHARE, FINISH, FORGET = "log", "doors", "backup", "share", "finish", "forget"
"""What is looked after, by the trouble that is told of it."""


class Upkeep:
    """Does once a day, when no lesson is going on, what each day asks for; on a thread of its own."""

    def __init__(self, home: Home, live: Live, log_news: str = "") -> None:
        """log_news: what was found wrong with the log at the start (`look_at_log`)."""
        self._home = home
        self._live = live
        self._troubles = {LOG: log_news}
        live.log_news = log_news
        self._set_aside = bool(waiting(home.log))
        self._damages: list[Damage] = []
        """What the last whole look found."""
        self._day: date | None = None
        self._quiet_since_s = live.clock.steady_s()
        self._backed_up = False
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._run, name="upkeep", daemon=True)

    def start(self) -> None:
        """Begin; the first look is at once."""
        self._thread.start()

    def stop(self) -> None:
        """End, with a backup of what the day has brought."""
        self._ended.set()
        if self._thread.is_alive():
            self._thread.join()
        if self._live.state.session is None:
            self._do(BACKUP, lambda: self._back_up(self._live.clock.wall()))

    def _run(self) -> None:
        while not self._ended.is_set():
            try:
                self.look()
            except Exception:
                # Backups and forgetting must go on tomorrow, whatever went wrong today.
                log.exception("what each day asks for could not be done")
            self._ended.wait(LOOK_S)

    def look(self) -> None:
        """Do what is due now, unless a lesson is going on."""
        if bool(waiting(self._home.log)) != self._set_aside:
            self._set_aside = not self._set_aside
            self._tell(LOG, _news(self._home, []))
        now, now_s = self._live.clock.wall(), self._live.clock.steady_s()
        if self._live.state.session is not None:
            self._quiet_since_s, self._backed_up = now_s, False
        elif self._day != now.date():
            self._begin_day(now)
        elif not self._backed_up and now_s - self._quiet_since_s >= QUIET_S:
            self._backed_up = True
            self._do(BACKUP, lambda: self._back_up(now))

    def _begin_day(self, now: datetime) -> None:
        if self._day is not None:
            self._do(DOORS, lambda: close_all(self._home, now.date()))
        self._day = now.date()
        # Before anything is taken out and sealed anew.
        self._do(LOG, self._look_through)
        self._do(BACKUP, lambda: self._back_up(now))
        self._do(SHARE, lambda: self._share(now))
        self._do(FINISH, lambda: finish(self._home))
        self._do(FORGET, lambda: forget_due(self._home, self._live.settings, now))

    def _look_through(self) -> str:
        """Read every session of the log, and return what is to be told of it."""
        self._damages = damages_aside(self._home.log, self._ended)
        return _news(self._home, self._damages)

    def _back_up(self, now: datetime) -> None:
        """Back the log up; of the copy is read what was written since the log itself was read."""
        back_up_day(self._home.log, now, lambda copy: damages(copy, newest=NEWEST) or self._damages)

    def _share(self, now: datetime) -> None:
        """Put the weeks that are over into the school's folder, where the settings name one."""
        from companion.school.share import share  # noqa: PLC0415 - DuckDB is an extra

        school = self._live.settings.school
        if not school.shared:
            return
        try:
            share(self._home, Path(school.shared).expanduser(), school.name, now.date())
        except CompanionError as error:
            raise CompanionError(
                _(
                    "This room's weeks could not be shared with the school on {weekday}. {what}",
                    weekday=weekday(now),
                    what=error.what,
                ),
                safe=error.safe,
                remedy=_(
                    "{remedy} It is tried again tomorrow, or by you on the page of all rooms.",
                    remedy=error.remedy,
                ),
            ) from error

    def _do(self, about: str, job: Callable[[], object]) -> None:
        """Do a job of the day; what stands in its way is told until it is done, and stops nothing else."""
        try:
            done = job()
        except CompanionError as error:
            log.error("%s", error)
            self._tell(about, str(error))
        else:
            self._tell(about, done if isinstance(done, str) else "")

    def _tell(self, about: str, trouble: str) -> None:
        if not self._ended.is_set():
            self._troubles[about] = trouble
            self._live.log_news = " ".join(filter(None, self._troubles.values()))
