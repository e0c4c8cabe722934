"""The pages of a companion that runs: what they want goes to the lesson that is going on."""

import threading
from collections.abc import Callable, Sequence
from concurrent.futures import Future
from typing import TypeVar

from companion.errors import CompanionError
from companion.language import _, later
from companion.lesson.command import Action, Command
from companion.lesson.day_words import date_words
from companion.lesson.event import Body
from companion.lesson.mark import Source
from companion.lesson.opening import UNPLANNED, Opening
from companion.lesson.session import Session
from companion.lesson.timetable import Lesson
from companion.listening.sound import Sound
from companion.live.live import Live
from companion.live.state import Listening
from companion.pages.port import Choice, LessonPort, Status, WaitsError
from companion.pressing.hotkeys import Obstacle

T = TypeVar("T")

DURABLE_WITHIN_S = 20.0
SETTINGS_WAIT = later("The settings were changed, but are not in use yet; companion status says why.")


class LivePort:
    """The `LessonPort` of a running companion.

    elsewhere: takes the commands for sessions that are not the open one.
    """

    def __init__(self, live: Live, keys: Callable[[], Obstacle | None], elsewhere: LessonPort) -> None:
        self._live = live
        self._keys = keys
        self._elsewhere = elsewhere
        self._opening = threading.Lock()
        self._today: tuple[object, tuple[Lesson, ...]] = None, ()
        """Today's lessons, and of which settings and day they are."""
        self._opened: dict[str, Session] = {}
        """The latest wish to open a session, and what was opened for it."""

    def status(self, session_id: str) -> Status:
        """Return how microphone and keys are for that session."""
        state, keys = self._live.state, self._keys()
        troubles = [f"{keys.reason} {keys.remedy}"] if keys else []
        troubles += [str(waits)] if (waits := state.waits) else []
        troubles += [_(SETTINGS_WAIT)] if state.settings_news else []
        troubles += [self._live.log_news] if self._live.log_news else []
        words = "" if keys else _("Keys work everywhere")
        if state.session is None or state.session.id != session_id:
            return Status(_("Microphone closed"), keys=words, troubles=tuple(troubles))
        if state.trouble:
            troubles.insert(0, state.unheard)
        microphone, hearing = _(_WORDS[state.listening]), state.listening is Listening.ON
        until = self._live.settings.listening.keep_clips_until
        if hearing and until is not None:
            microphone = _(
                "Listening, and keeping what is heard of phrases until {day}", day=date_words(until)
            )
        said = " ".join(nudge.words for nudge in state.nudges)
        return Status(microphone, hearing, words, tuple(troubles), said)

    def subscribe(self, news: Callable[[], None]) -> Callable[[], None] | None:
        """Call `news` whenever the lesson has changed; return what ends that."""
        return self._live.subscribe(lambda _state: news())

    def choice(self) -> Choice:
        """Return what can be opened."""
        settings = self._live.settings
        lessons = settings.timetable.lessons if settings.timetable else ()
        coming = self._live.state.coming
        if coming and coming.begins.date() != self._live.clock.wall().astimezone(coming.begins.tzinfo).date():
            coming = None
        return Choice(
            tuple(plan.name for plan in settings.plans),
            tuple(lesson.class_group for lesson in lessons),
            coming,
            self._bring(coming),
        )

    def today(self) -> tuple[Lesson, ...]:
        """Return the lessons of the timetable today."""
        section, wall = self._live.settings.timetable, self._live.clock.wall()
        if section is None:
            return ()
        key = (id(section), wall.date())
        if self._today[0] != key:
            timetable = section.timetable()
            self._today = key, timetable.lessons_on(wall.astimezone(timetable.zone).date())
        return self._today[1]

    def _bring(self, lesson: Lesson | None) -> str:
        plans = {plan.name: plan.bring for plan in self._live.settings.plans}
        usual = self._live.settings.plans[0].name
        return plans.get(lesson.plan or usual, "") if lesson else ""

    def open(self, class_group: str, plan: str | None, room: str, *, request: str) -> Session:
        """Open a session; a wish that comes again opens no second one."""
        with self._opening:
            if request not in self._opened:
                opening = Opening(class_group or UNPLANNED, plan, room)
                self._opened = {request: self._within(self._live.open(opening, Source.PAGE))}
            return self._written(self._opened[request])

    def now_ms(self, session: Session) -> int:
        """Return the session's own time now: by the steady clock while it is open."""
        if self._is_open(session.id):
            return round((self._live.clock.steady_s() - self._live.state.zero_s) * 1000)
        return self._elsewhere.now_ms(session)

    def submit(self, session_id: str, command: Command, *, request: str, ago_s: float = 0.0) -> Session:
        """Carry out `command` as asked for on the page `ago_s` seconds ago; return when it is durable."""
        if self._is_open(session_id):
            at_s = self._live.clock.steady_s() - ago_s
            recorded = self._within(self._live.ask(command, Source.PAGE, at_s, request=request))
            if recorded is not None and recorded.session.id == session_id:
                return self._written(recorded.session)
        if command.action is Action.UNDO:
            return self._within(self._live.take_back(session_id, Source.PAGE, request=request)).session
        return self._elsewhere.submit(session_id, command, request=request, ago_s=ago_s)

    def close(self, session_id: str, *, request: str) -> Session:
        """End the lesson, if it is going on still; return when that is durable."""
        if self._is_open(session_id):
            closed = self._within(self._live.close(Source.PAGE))
            if closed is not None and closed.id == session_id:
                return self._written(closed)
        return self._elsewhere.close(session_id, request=request)

    def append(self, session_id: str, bodies: Sequence[Body], *, request: str) -> Session:
        """Record `bodies` together; return when they are durable."""
        return self._within(self._live.record(session_id, *bodies, request=request))

    def sounds(self, session_id: str) -> frozenset[str]:
        """Return the ids of the marks and near misses whose sound is still there."""
        return self._live.clips.items(session_id)

    def sound(self, session_id: str, item: str) -> Sound | None:
        """Return the sound of a mark or near miss, or None if it is not there."""
        return self._live.clips.get(session_id, item)

    def _within(self, asked: Future[T]) -> T:
        """Return the result; a disk that takes its time is no failure, and is told as what it is."""
        try:
            return asked.result(DURABLE_WITHIN_S)
        except TimeoutError:
            raise CompanionError(
                _("The disk takes its time: this is not written yet."),
                safe=_("It is not lost, and is written as soon as the disk lets it."),
                remedy=_("Load this page again in a moment. Nothing is recorded twice."),
            ) from None

    def _written(self, session: Session) -> Session:
        """Return `session` if the log has it. Raises WaitsError if steps of it wait in memory."""
        if waits := self._live.state.waits:
            raise WaitsError(waits.what, safe=waits.safe, remedy=waits.remedy)
        return session

    def _is_open(self, session_id: str) -> bool:
        session = self._live.state.session
        return session is not None and session.id == session_id


_WORDS = {
    Listening.OFF: later("Not listening"),
    Listening.ON: later("Listening"),
    Listening.PAUSED: later("Paused"),
    Listening.TROUBLED: later("Not heard"),
    Listening.GUEST: later("Not listening: a guest teaches"),
}
