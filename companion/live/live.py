"""A lesson that is going on: microphone, keys and pages in, one writer, tones and pages out.

Every source only hands in what it wants. One thread records it, and only then lets it be heard and seen.
"""

import logging
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import ExitStack, suppress
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

from companion.clock import Clock, ComputerClock
from companion.errors import CompanionError
from companion.language import _
from companion.lesson import event as ev
from companion.lesson.command import Command
from companion.lesson.mark import Source
from companion.lesson.opening import Opening
from companion.lesson.plan import Plan
from companion.lesson.session import Session
from companion.listening.ear import Catch
from companion.live.agenda import Agenda
from companion.live.announcer import Announcer, Subscriber
from companion.live.classroom import Classroom
from companion.live.clips import Clips
from companion.live.errands import Errands
from companion.live.heard_sounds import HeardSounds
from companion.live.lesson_ear import DEAF, EarParts, LessonEar, Words
from companion.live.state import LiveState
from companion.live.ticks import Ticks
from companion.log.store import open_log
from companion.recording.heartbeat import Heartbeat
from companion.recording.recorder import Recorder
from companion.recording.writer import Recorded
from companion.settings.settings import Settings
from companion.settings.watch import SettingsWatch
from companion.sounding.sounds import Tone
from companion.sounding.tones import Tones

log = logging.getLogger(__name__)

T = TypeVar("T")

EAR_PATIENCE_S = 2.0
"""How long the end of the program waits for what was said just before it."""


class Live:
    """The running companion. Any thread may call it; nothing waits but `start`, `stop` and the results."""

    def __init__(
        self,
        log_path: Path,
        settings: Settings,
        *,
        ear: EarParts = DEAF,
        sounds: HeardSounds | None = None,
        tones: Tones | None = None,
        clock: Clock | None = None,
        settings_watch: SettingsWatch | None = None,
    ) -> None:
        """Make ready; nothing happens before `start`.

        ear: how it listens; by default it does not. sounds: by default none is ever written to disk or
        learnt from. settings_watch: brings other settings later; they are taken up when no session is open.
        """
        self.log_news = ""
        """What is to be told of the session log itself, with its remedy; empty when it is sound."""
        self.clock = clock or ComputerClock()
        self._log_path = log_path
        self._settings = settings
        self._settings_watch = settings_watch
        self._tones = tones
        self._sounds = sounds or HeardSounds()
        self._announcer = Announcer()
        self._ear = LessonEar(ear, self._on_catch, self._on_trouble)
        self._writer = ThreadPoolExecutor(max_workers=1, thread_name_prefix="writer")
        self._parts = ExitStack()
        self._ticking: Future[None] | None = None
        self._errands = Errands(self.clock)
        self._room: Classroom

    def start(self) -> Session | None:
        """Begin to work; return the session that was interrupted and now goes on, if there was one.

        Raises CompanionError if the session log can't be opened; nothing is left running then.
        """
        with ExitStack() as parts:
            parts.callback(self._writer.shutdown)
            self._room = self.soon(self._furnish).result()
            parts.callback(lambda: self.soon(self._room.end).result())
            session = self._do(self._room.begin).result()
            parts.callback(self._stop_listening)
            ticks = Ticks(self.clock, self._tick_soon, self._stand_still)
            ticks.start()
            parts.callback(ticks.stop)
            self._parts = parts.pop_all()
        return session

    def stop(self) -> None:
        """Finish what was asked for; close microphone and log. An open session can be gone on with later."""
        self._parts.close()

    @property
    def state(self) -> LiveState:
        """What can be shown of the lesson now, and how many steps wait, be it for the log or a slow disk."""
        state, late = self._announcer.state, self._errands.late
        if not late:
            return state
        slow_disk = CompanionError(
            _("The disk takes its time."), remedy=_("End other programs that write to it.")
        )
        return replace(state, unwritten=state.unwritten + late, log_trouble=state.log_trouble or slow_disk)

    @property
    def settings(self) -> Settings:
        """Those in use."""
        return self._room.settings if hasattr(self, "_room") else self._settings

    @property
    def clips(self) -> Clips:
        """What candidates sounded like."""
        return self._sounds.clips

    @property
    def level_dbfs(self) -> float | None:
        """Loudness at the microphone; None while it is closed."""
        return self._ear.level_dbfs

    def subscribe(self, subscriber: Subscriber) -> Callable[[], None]:
        """Call `subscriber` with every new state, on the writer's thread; return what ends that."""
        return self._announcer.subscribe(subscriber)

    def open(self, opening: Opening, source: Source) -> Future[Session]:
        """Open a session; the one that is open is closed first."""
        return self._step(lambda: self._room.open(opening, source))

    def open_lesson(self, source: Source) -> Future[Session]:
        """Open the lesson that the timetable has now, or else the next one of today, early or late.

        The result raises CompanionError if there is none.
        """
        return self._step(lambda: self._room.open_lesson(source))

    def close(self, source: Source) -> Future[Session | None]:
        """Close the session that is open; the result is None if there was none."""
        asked_s = self.clock.steady_s()
        return self._step(lambda: self._room.close(source, asked_s))

    def name(
        self, class_group: str, plan: str | None, source: Source, session_id: str = ""
    ) -> Future[Session]:
        """Say which class group a session is of; by default the one that is open, else the newest.

        The result raises CompanionError if there is no such session or plan.
        """
        return self._step(lambda: self._room.name(class_group, plan, source, session_id))

    def ask(
        self, command: Command, source: Source, at_s: float | None = None, *, request: str | None = None
    ) -> Future[Recorded | None]:
        """Carry out `command`; the result is what was recorded, None if no session is open.

        at_s: when the key went down, on the steady clock; None: now. request: a ULID of the asker; what it
        asks for again is recorded once.
        """
        asked_s = self.clock.steady_s() if at_s is None else at_s
        return self._step(lambda: self._room.command(command, asked_s, source, request))

    def record(self, session_id: str, *bodies: ev.Body, request: str | None = None) -> Future[Session]:
        """Record steps of review, reflection or settling in any session: all of them or none."""
        return self._step(lambda: self._room.record(session_id, bodies, request))

    def take_back(self, session_id: str, source: Source, *, request: str | None = None) -> Future[Recorded]:
        """Take back what was done last in any session; a lesson whose end is taken back goes on.

        The result raises CompanionError if another lesson is going on by now.
        """
        return self._step(lambda: self._room.take_back(session_id, source, request))

    def engine_in(self, plan: Plan) -> str:
        """Return the name of the engine that listens in a lesson with `plan`.

        Raises CompanionError if none is ready.
        """
        return self._ear.engine_in(self.settings, plan)

    def tick(self) -> Future[None]:
        """Do what the time asks for; it is done by itself twice a second."""
        return self._do(self._room.tick)

    def soon(self, job: Callable[[], T]) -> Future[T]:
        """Let `job` run on the writer's thread, between two commands."""
        return self._writer.submit(job)

    def _step(self, job: Callable[[], T]) -> Future[T]:
        """Let something be done that was asked for: it is counted as waiting until it is done."""
        errand = self._errands.ask()
        done = self._do(lambda: self._errands.do(errand, job))
        done.add_done_callback(lambda _: self._errands.end(errand))
        return done

    def _do(self, job: Callable[[], T]) -> Future[T]:
        """Let `job` run in the classroom, and ear and viewers follow whatever it came to."""

        def work() -> T:
            try:
                return job()
            finally:
                self._room.follow()

        return self.soon(work)

    def _furnish(self) -> Classroom:
        """Open the log and put the parts together that belong to the writer's thread."""
        session_log = open_log(self._log_path)
        heartbeat = Heartbeat(self._log_path.with_suffix(".beat"))
        recorder = Recorder(session_log, self._settings, self.clock, heartbeat)
        day = Agenda(session_log, self._settings, self._settings_watch, self.clock)
        return Classroom(
            session_log,
            recorder,
            day,
            self._errands,
            self._ear,
            self._sounds,
            self._tones,
            self._announcer,
            self.clock,
        )

    def _stop_listening(self) -> None:
        """Close the microphone, and wait a little for what was said just before."""
        ear = self.soon(self._room.stop_listening).result()
        if ear is not None:
            ear.wait(EAR_PATIENCE_S)

    def _tick_soon(self) -> None:
        """Let a tick be done, unless the last one is still waiting for its turn."""
        if self._errands.tell() and self._tones:
            self._tones.play(Tone.WAITING)
        if self._ticking is None or self._ticking.done():
            self._ticking = self.tick()
            self._ticking.add_done_callback(_log_error)

    def _stand_still(self, from_s: float, to_s: float) -> None:
        self._do(lambda: self._room.stand_still(from_s, to_s)).add_done_callback(_log_error)

    def _on_catch(self, session_id: str, catch: Catch) -> None:
        with suppress(RuntimeError):
            self._step(lambda: self._room.catch(session_id, catch))

    def _on_trouble(self, session_id: str, part: str, words: Words | None, since_s: float) -> None:
        with suppress(RuntimeError):
            self._do(lambda: self._room.note_trouble(session_id, part, words, since_s))


def _log_error(done: Future[None]) -> None:
    if error := done.exception():
        log.error("what the time asks for could not be done", exc_info=error)
