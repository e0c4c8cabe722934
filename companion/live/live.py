"""A lesson that is going on: microphone, keys and pages in, one writer, tones and pages out.

Every source only hands in what it wants. One thread records it, and only then lets it be heard and seen.
"""

import logging
import threading
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path
from queue import SimpleQueue
from typing import TypeVar

from companion.clock import Clock, ComputerClock
from companion.errors import CompanionError
from companion.lesson import event as ev
from companion.lesson.command import Action, Command
from companion.lesson.mark import Source
from companion.lesson.opening import UNPLANNED, Opening
from companion.lesson.plan import Plan
from companion.lesson.session import Session
from companion.listening.ear import Catch
from companion.listening.microphone.capture import Microphone
from companion.live.clip_folder import KeptClips
from companion.live.clips import Clips
from companion.live.lesson_ear import LessonEar, OpenMicrophone, OpenSpotter, Words
from companion.live.reviewed_takes import ReviewedTakes
from companion.live.state import Listening, LiveState
from companion.live.timely_lesson import Day
from companion.log.store import SessionLog, open_log
from companion.recording.heartbeat import Heartbeat
from companion.recording.naming import naming
from companion.recording.recorder import Recorder
from companion.recording.writer import Recorded
from companion.settings.settings import Settings
from companion.settings.watch import SettingsWatch
from companion.sounding.confirmation import tones_for
from companion.sounding.sounds import Tone
from companion.sounding.tones import Tones

log = logging.getLogger(__name__)

T = TypeVar("T")

TICK_S = 0.5
BEAT_EVERY_S = 5.0
EAR_PATIENCE_S = 2.0
"""How long the end of the program waits for what was said just before it."""

ChooseEngine = Callable[[Settings, Plan], str]
"""Names the engine that listens in a lesson. Raises CompanionError if none is ready."""


class Live:
    """The running companion. Any thread may call it; nothing waits but `start`, `stop` and the results."""

    def __init__(
        self,
        log_path: Path,
        settings: Settings,
        *,
        open_spotter: OpenSpotter | None,
        open_microphone: OpenMicrophone = Microphone,
        tones: Tones | None = None,
        kept_clips: KeptClips | None = None,
        clock: Clock | None = None,
        choose_engine: ChooseEngine | None = None,
        settings_watch: SettingsWatch | None = None,
        reviewed_takes: ReviewedTakes | None = None,
    ) -> None:
        """Make ready; nothing happens before `start`.

        open_spotter: None for a companion that does not listen. kept_clips: None for one that never
        writes sound to disk. choose_engine: None takes the settings by their word. settings_watch: brings
        other settings later; they are taken up when no session is open. reviewed_takes: None for a
        companion that never learns from reviews.
        """
        self.settings = settings
        self.state = LiveState()
        self.log_news = ""
        """What is to be told of the session log itself, with its remedy; empty when it is sound."""
        self.clips = Clips(kept_clips)
        self.clock = clock or ComputerClock()
        self._log_path = log_path
        self._tones = tones
        self._choose_engine = choose_engine
        self._settings_watch = settings_watch
        self._reviewed_takes = reviewed_takes
        self._writer = ThreadPoolExecutor(max_workers=1, thread_name_prefix="writer")
        self._ended = threading.Event()
        self._ticks = threading.Thread(target=self._run_ticks, name="ticks", daemon=True)
        self._subscribers: list[Callable[[LiveState], None]] = []
        self._catches: SimpleQueue[tuple[str, Catch]] = SimpleQueue()
        self._ear = LessonEar(open_spotter, open_microphone, self._on_catch, self._on_trouble)
        self._beaten_s = 0.0
        self._log: SessionLog
        self._recorder: Recorder
        self._day: Day

    def start(self) -> Session | None:
        """Begin to work; return the session that was interrupted and now goes on, if there was one.

        Raises CompanionError if the session log can't be opened.
        """
        session = self.soon(self._begin).result()
        self._ticks.start()
        return session

    def stop(self) -> None:
        """Finish what was asked for; close microphone and log. An open session can be gone on with later."""
        self._ended.set()
        self.soon(self._end).result()
        self._writer.shutdown()

    def subscribe(self, subscriber: Callable[[LiveState], None]) -> Callable[[], None]:
        """Call `subscriber` with every new state, on the writer's thread; return what ends that."""
        self._subscribers.append(subscriber)
        return lambda: self._subscribers.remove(subscriber)

    def open(self, opening: Opening, source: Source) -> Future[Session]:
        """Open a session; the one that is open is closed first."""
        return self.soon(lambda: self._open(opening, source))

    def open_lesson(self, source: Source) -> Future[Session]:
        """Open the lesson that the timetable has now, or else the next one of today, early or late.

        The result raises CompanionError if there is none.
        """
        return self.soon(lambda: self._open_lesson(source))

    def close(self, source: Source) -> Future[Session | None]:
        """Close the session that is open; the result is None if there was none."""
        asked_s = self.clock.steady_s()
        return self.soon(lambda: self._close(source, asked_s))

    def name(
        self, class_group: str, plan: str | None, source: Source, session_id: str = ""
    ) -> Future[Session]:
        """Say which class group a session is of; by default the one that is open, else the newest.

        The result raises CompanionError if there is no such session or plan.
        """
        return self.soon(lambda: self._name(class_group, plan, source, session_id))

    def ask(
        self, command: Command, source: Source, at_s: float | None = None, *, request: str | None = None
    ) -> Future[Recorded | None]:
        """Carry out `command`; the result is what was recorded, None if no session is open.

        at_s: when the key went down, on the steady clock; None: now. request: a ULID of the asker; what it
        asks for again is recorded once.
        """
        asked_s = self.clock.steady_s() if at_s is None else at_s
        return self.soon(lambda: self._command(command, asked_s, source, request))

    def record(self, session_id: str, *bodies: ev.Body, request: str | None = None) -> Future[Session]:
        """Record steps of review, reflection or settling in any session: all of them or none."""
        return self.soon(lambda: self._record(session_id, bodies, request))

    def take_back(self, session_id: str, source: Source, *, request: str | None = None) -> Future[Recorded]:
        """Take back what was done last in any session; a lesson whose end is taken back goes on.

        The result raises CompanionError if another lesson is going on by now.
        """
        return self.soon(lambda: self._take_back(session_id, source, request))

    @property
    def level_dbfs(self) -> float | None:
        """Loudness at the microphone; None while it is closed."""
        return self._ear.level_dbfs

    def engine_in(self, plan: Plan) -> str:
        """Return the name of the engine that listens in a lesson with `plan`.

        Raises CompanionError if none is ready.
        """
        if self._choose_engine is None:
            return self.settings.listening.engine
        return self._choose_engine(self.settings, plan)

    def soon(self, job: Callable[[], T]) -> Future[T]:
        """Let `job` run on the writer's thread, between two commands."""
        return self._writer.submit(job)

    def _run_ticks(self) -> None:
        while not self._ended.wait(TICK_S):
            with suppress(RuntimeError):
                self.soon(self.tick).exception()

    def _begin(self) -> Session | None:
        self._log = open_log(self._log_path)
        heartbeat = Heartbeat(self._log_path.with_suffix(".beat"))
        self._recorder = Recorder(self._log, self.settings, self.clock, heartbeat)
        session = self._recorder.go_on()
        self._day = Day(self._log, self.settings, self._settings_watch, self.clock)
        self._forget_clips()
        self._follow()
        return session

    def _end(self) -> None:
        if ear := self._ear.stop():
            self._recorder.regain_hearing(self.clock.steady_s())
            ear.wait(EAR_PATIENCE_S)
            self._catch()
        self._recorder.beat()
        self._log.close()
        if self._tones:
            self._tones.close()
        if self._reviewed_takes:
            self._reviewed_takes.close()

    def tick(self) -> None:
        """Do what the time asks for. Runs on the writer's thread, twice a second."""
        try:
            if self._recorder.follow_plan():
                self._follow()
            if self.clock.steady_s() - self._beaten_s >= BEAT_EVERY_S:
                self._beaten_s = self.clock.steady_s()
                if self._recorder.look_again():
                    self._follow()
                self._recorder.beat()
                self._forget_clips()
                self._follow_settings()
                self._follow_timetable()
        except Exception:
            log.exception("what the time asks for could not be done")

    def _follow_timetable(self) -> None:
        """Open the session whose time has come, and close one that is long over."""
        session = self._recorder.session
        opening = self._day.to_open(session)
        if opening is not None:
            self._open(opening, Source.CLOCK)
        elif session is not None and self._day.is_over(session):
            self._close(Source.CLOCK)
        if self._day.look():
            self._publish()

    def _follow_settings(self) -> None:
        """Take up changed settings if no session is open, which would have begun with others."""
        newest = self._day.newest_settings()
        if self._recorder.session is None:
            self._take_up(newest)
        if self._day.settings_news != self.state.settings_news:
            self._publish()

    def _take_up(self, settings: Settings) -> None:
        if not self._day.use(settings):
            return
        self.settings = self._recorder.settings = settings
        if self._tones:
            self._tones.volume = settings.tones.volume
        log.info("changed settings were taken up")
        self._publish()

    def _open(self, opening: Opening, source: Source) -> Session:
        settings = self._day.newest_settings(opening.plan)
        self._stop_ear()
        self._recorder.close(source)
        self._take_up(settings)
        session = self._recorder.open(opening, source, self._ready_engine(opening.plan))
        log.info("a session was opened (%s)", source)
        self._day.look()
        self._follow()
        return session

    def _ready_engine(self, plan: str | None) -> str | None:
        """Return the engine that will listen, or None: a lesson is held without one, too."""
        if not self._ear.can_listen:
            return None
        try:
            return self.engine_in(self.settings.plan(plan))
        except Exception as error:
            log.warning("no engine is ready: %s", error)
            return None

    def _open_lesson(self, source: Source) -> Session:
        opening = self._day.opening_now()
        if opening is None:
            raise CompanionError(
                "The timetable has no lesson to open today.",
                remedy="Say which class: companion open CLASS_GROUP",
            )
        session = self._recorder.session
        if session is not None and session.class_group == opening.class_group:
            raise CompanionError(
                f"{session.class_group} is open already.",
                safe="It goes on.",
                remedy="Another class: companion open CLASS_GROUP",
            )
        return self._open(opening, source)

    def _open_or_close(self, action: Action, source: Source) -> None:
        """Open or close a session by hand, without a word about which; a tone tells whether it was done."""
        session = self._recorder.session
        if action is Action.CLOSE:
            done = self._close(source) is not None
        else:
            opening = self._day.opening_now() or Opening(UNPLANNED)
            done = session is None or session.class_group != opening.class_group
            if done:
                self._open(opening, source)
        self._sound(Tone.NOTE if done else Tone.REFUSAL)

    def _name(self, class_group: str, plan: str | None, source: Source, session_id: str) -> Session:
        session = self._log.session(session_id) if session_id else self._recorder.session or self._log.find()
        now_ms = self._recorder.now_ms
        bodies = naming(self._log, self.settings, session, class_group, plan, now_ms, source)
        return self._record(session.id, bodies, None)

    def _close(self, source: Source, asked_s: float | None = None) -> Session | None:
        self._stop_ear()
        session = self._recorder.close(source, asked_s)
        log.info("the session was closed (%s)", source)
        self._day.look()
        self._follow()
        return session

    def _command(self, command: Command, at_s: float, source: Source, request: str | None) -> Recorded | None:
        before = self._recorder.session
        try:
            if command.action in (Action.OPEN, Action.CLOSE):
                self._open_or_close(command.action, source)
                return None
            recorded = self._recorder.command(command, at_s, source, request=request)
        except CompanionError as error:
            log.error("a command could not be recorded: %s", error)
            self._sound(Tone.REFUSAL)
            raise
        self._follow()
        self._confirm(before, recorded.bodies if recorded else ())
        return recorded

    def _take_back(self, session_id: str, source: Source, request: str | None) -> Recorded:
        before = self._recorder.session
        taken = self._recorder.take_back(session_id, source, request=request)
        self._day.look()
        self._follow()
        self._confirm(before or taken.session, taken.bodies)
        return taken

    def _record(self, session_id: str, bodies: tuple[ev.Body, ...], request: str | None) -> Session:
        before = self._recorder.session
        session = self._recorder.record(session_id, bodies, request=request).session
        if session.settled:
            self._settle_clips(session)
        if before is not None and before.id == session_id and before.plan != session.plan:
            # Another plan has other phrases: the ear that has begun with the old ones is replaced.
            self._stop_ear()
        self._day.look()
        self._follow()
        return session

    def _catch(self) -> None:
        """Record what the ear has caught until now."""
        while not self._catches.empty():
            session_id, catch = self._catches.get()
            before = self._recorder.session
            try:
                recorded = self._recorder.candidate(session_id, catch.candidate, catch.zero_s)
            except CompanionError as error:
                log.error("what was heard could not be recorded: %s", error)
                recorded = None
            if recorded is None:
                continue
            for item in (event.made for event in recorded.events):
                if item is not None:
                    self.clips.keep(session_id, item, catch.sound, self.clock.wall().date())
            if before is not None and before.id == session_id:
                self._follow()
                self._confirm(before, recorded.bodies)

    def _confirm(self, before: Session | None, bodies: tuple[ev.Body, ...]) -> None:
        """Let a tone tell what is in the log now."""
        for tone in tones_for(before, self._recorder.session, bodies):
            self._sound(tone)

    def _sound(self, tone: Tone) -> None:
        if self._tones:
            self._tones.play(tone)

    def _follow(self) -> None:
        """Let microphone and viewers follow what the session has become."""
        session = self._recorder.session
        if session is not None and self._tones:
            self._tones.wake()
        if session is not None and not session.paused:
            self._ear.start(self.settings, session)
        else:
            self._stop_ear()
        self._publish()

    def _publish(self) -> None:
        session = self._recorder.session
        listening, (trouble, remedy) = Listening.OFF, ("", "")
        if session is not None and session.paused:
            listening = Listening.PAUSED
        elif self._ear.is_open:
            trouble, remedy = self._ear.trouble or ("", "")
            listening = Listening.TROUBLED if trouble else Listening.ON
        self.state = LiveState(
            session,
            self._recorder.zero_s,
            listening,
            trouble,
            remedy,
            self._day.coming,
            self._day.waiting,
            self._day.overdue,
            self._day.settings_news,
        )
        for subscriber in list(self._subscribers):
            try:
                subscriber(self.state)
            except Exception:
                log.exception("a viewer could not be told")

    def _stop_ear(self) -> None:
        """Close the microphone at once; what was said until now is recorded when it is decided."""
        if self._ear.stop() is not None:
            self._recorder.regain_hearing(self.clock.steady_s())

    def _on_catch(self, session_id: str, catch: Catch) -> None:
        self._catches.put((session_id, catch))
        with suppress(RuntimeError):
            self.soon(self._catch)

    def _on_trouble(self, session_id: str, part: str, words: Words | None, since_s: float) -> None:
        with suppress(RuntimeError):
            self.soon(lambda: self._note_trouble(session_id, part, words, since_s))

    def _note_trouble(self, session_id: str, part: str, words: Words | None, since_s: float) -> None:
        if not self._ear.note(session_id, part, words):
            return
        if trouble := self._ear.trouble:
            log.warning("nothing is heard: %s", trouble[0])
            self._recorder.lose_hearing(trouble[0], since_s)
        else:
            self._recorder.regain_hearing(since_s)
        self._publish()

    def _forget_clips(self) -> None:
        """Drop the sounds of sessions that were settled or purged, and outdated ones from the disk."""
        if self.clips.purge(self.settings.listening.keep_clips_until, self.clock.wall().date()):
            log.info("clips on disk were removed: their last day is past")
        for session_id in self.clips.sessions:
            summary = self._log.summary(session_id)
            if summary is None:
                self.clips.forget(session_id)
            elif summary.settled:
                self._settle_clips(self._log.session(session_id))

    def _settle_clips(self, session: Session) -> None:
        """Let go of a settled session's sounds, after what was confirmed of them is learnt from."""
        if self._reviewed_takes:
            self._reviewed_takes.take_up(session, self.clips, self.settings)
        self.clips.forget(session.id)
