"""What settings, timetable and log say of the day, between two looks at them. For one thread."""

from companion.clock import Clock
from companion.lesson.opening import Opening
from companion.lesson.session import Session
from companion.lesson.timetable import Lesson
from companion.live.daybook import Daybook
from companion.log.care import promises
from companion.log.store import SessionLog
from companion.log.summary import Summary
from companion.settings.settings import Settings
from companion.settings.watch import SettingsWatch

RECENT = 30
"""Sessions of the log that are looked through for the day's own."""


class Agenda:
    """The settings in use, the lesson that comes, and the sessions that wait for their review."""

    def __init__(
        self, log: SessionLog, settings: Settings, watch: SettingsWatch | None, clock: Clock
    ) -> None:
        """Look for the first time; watch: brings other settings later, None: nobody does."""
        self.settings = settings
        self.coming: Lesson | None = None
        self.waiting: tuple[Summary, ...] = ()
        self.overdue: tuple[str, ...] = ()
        self._log = log
        self._watch = watch
        self._clock = clock
        self._daybook = Daybook(settings)
        self.look()

    def look(self) -> bool:
        """Look what comes next and what waits, and return whether that has changed."""
        before, recent, now = (self.coming, self.waiting, self.overdue), self._recent(), self._clock.wall()
        self.coming = self._daybook.coming(now, recent)
        self.waiting = tuple(summary for summary in recent if summary.waits)
        due = (one for one in promises(self._log) if one.promise.overdue(now.date()))
        self.overdue = tuple(one.class_group for one in due)
        return before != (self.coming, self.waiting, self.overdue)

    def to_open(self, session: Session | None) -> Opening | None:
        """Return what opens by itself now, `session` being open (`Daybook.to_open`)."""
        return self._daybook.to_open(self._clock.wall(), self._recent(), session)

    def is_over(self, session: Session) -> bool:
        """Whether `session` is open for longer than anybody can want to be listened to."""
        return self._daybook.is_over(session, self._clock.wall())

    def opening_now(self) -> Opening | None:
        """Return the lesson that the timetable has now, or else the next one of today, early or late."""
        return self._daybook.opening_now(self._clock.wall())

    def newest_settings(self, plan: str | None = None) -> Settings:
        """Return what the settings file says by now, unless only the settings in use have `plan`.

        Raises CompanionError if neither have it.
        """
        newest = self._watch.look() if self._watch else self.settings
        if plan is None or any(known.name == plan for known in newest.plans):
            return newest
        self.settings.plan(plan)
        return self.settings

    def use(self, settings: Settings) -> bool:
        """Go by `settings` from now on, and return whether they are others than before."""
        if settings == self.settings:
            return False
        self.settings, self._daybook = settings, Daybook(settings)
        self.look()
        return True

    @property
    def settings_news(self) -> str:
        """Why the settings in use are not those of the file; "" if they are."""
        return self._watch.news(self.settings) if self._watch else ""

    def _recent(self) -> list[Summary]:
        return self._log.summaries(most=RECENT)
