"""A lesson that is going on: microphone, keys and pages in, one writer, tones and pages out.

Every source only hands in what it wants. One thread records it, and only then lets it be heard and seen.
"""

import logging
import threading
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from queue import SimpleQueue
from typing import TypeVar

from companion.clips import Clips
from companion.clock import Clock, ComputerClock
from companion.config import Settings
from companion.daybook import is_over, lesson_to_open
from companion.errors import CompanionError
from companion.heartbeat import Heartbeat
from companion.kept_clips import KeptClips
from companion.lesson import event as ev
from companion.lesson.command import Action, Command
from companion.lesson.mark import Kind, Source
from companion.lesson.session import Session
from companion.lesson.timetable import Lesson
from companion.listening.candidate import Sound, Spotter
from companion.listening.capture import Microphone
from companion.listening.ear import Catch, Ear
from companion.listening.trouble import Trouble
from companion.log.store import SessionLog, open_log
from companion.log.summary import Summary
from companion.recorder import Opening, Recorder
from companion.tones import Tone, Tones
from companion.writer import Recorded

log = logging.getLogger(__name__)

T = TypeVar("T")

TICK_S = 0.5
RECENT = 30
"""Sessions of the log that are looked through for the day's own."""
BEAT_EVERY_S = 5.0
EAR_PATIENCE_S = 2.0
"""How long the end of the program waits for what was said just before it."""
UNPLANNED = "unplanned"
"""Class group of a session that was opened by a key when the timetable had nothing."""

OpenSpotter = Callable[[Settings, Session], Spotter]
OpenMicrophone = Callable[[str | None, Callable[[Trouble | None, float], None]], Microphone]


class Listening(StrEnum):
    """Whether the microphone is open, and heard."""

    OFF = "off"
    ON = "on"
    PAUSED = "paused"
    TROUBLED = "not heard"


@dataclass(frozen=True, slots=True)
class LiveState:
    """What can be shown of the lesson; a new one is published with every change."""

    session: Session | None = None
    """The session that is open; None between two."""
    zero_s: float = 0.0
    """When it opened, on the steady clock."""
    listening: Listening = Listening.OFF
    trouble: str = ""
    """Why nothing is heard, in plain words; empty when all is well."""
    remedy: str = ""
    coming: Lesson | None = None
    """The next lesson of the timetable."""
    waiting: tuple[Summary, ...] = ()
    """Sessions that are closed but not settled, newest first."""


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
    ) -> None:
        """Make ready; nothing happens before `start`.

        open_spotter: None for a companion that does not listen. kept_clips: None for one that never
        writes sound to disk.
        """
        self.settings = settings
        self.state = LiveState()
        self.clips = Clips()
        self.clock = clock or ComputerClock()
        self._log_path = log_path
        self._open_spotter = open_spotter
        self._open_microphone = open_microphone
        self._tones = tones
        self._kept_clips = kept_clips
        self._writer = ThreadPoolExecutor(max_workers=1, thread_name_prefix="writer")
        self._ended = threading.Event()
        self._ticks = threading.Thread(target=self._run_ticks, name="ticks", daemon=True)
        self._subscribers: list[Callable[[LiveState], None]] = []
        self._catches: SimpleQueue[tuple[str, Catch]] = SimpleQueue()
        self._ear: Ear | None = None
        self._troubles: dict[str, tuple[str, str]] = {}
        self._beaten_s = 0.0
        self._coming: Lesson | None = None
        self._waiting: tuple[Summary, ...] = ()
        self._timetable = settings.timetable.timetable() if settings.timetable else None
        self._log: SessionLog
        self._recorder: Recorder

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
        return self.soon(lambda: self._close(source))

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

    @property
    def level_dbfs(self) -> float | None:
        """Loudness at the microphone; None while it is closed."""
        ear = self._ear
        return None if ear is None else ear.microphone.level_dbfs

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
        self._look_at_the_day()
        self._follow()
        return session

    def _end(self) -> None:
        ear = self._ear
        self._stop_ear()
        if ear is not None:
            ear.wait(EAR_PATIENCE_S)
            self._catch()
        self._recorder.beat()
        self._log.close()
        if self._tones:
            self._tones.close()

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
                self._forget_settled()
                self._follow_timetable()
        except Exception:
            log.exception("what the time asks for could not be done")

    def _follow_timetable(self) -> None:
        """Open the session whose time has come, and close one that is long over."""
        now, session = self.clock.wall(), self._recorder.session
        if self._timetable and self.settings.timetable and self.settings.timetable.opens == "clock":
            due = lesson_to_open(self._timetable, now, self._log.summaries(most=RECENT))
            if due is not None:
                self._open(Opening(due.class_group, due.plan, due.room), Source.CLOCK)
        if session and session is self._recorder.session and is_over(self._timetable, session, now):
            self._close(Source.CLOCK)
        before = (self._coming, self._waiting)
        self._look_at_the_day()
        if before != (self._coming, self._waiting):
            self._publish()

    def _look_at_the_day(self) -> None:
        """Look what comes next, and which sessions wait for their review."""
        self._coming = self._timetable.next_after(self.clock.wall()) if self._timetable else None
        recent = self._log.summaries(most=RECENT)
        self._waiting = tuple(summary for summary in recent if summary.closed and not summary.settled)

    def _open(self, opening: Opening, source: Source) -> Session:
        self._stop_ear()
        session = self._recorder.open(opening, source, self.settings.listening.engine)
        log.info("a session was opened (%s)", source)
        self._look_at_the_day()
        self._follow()
        return session

    def _open_lesson(self, source: Source) -> Session:
        opening = self._opening_now()
        if opening is None:
            raise CompanionError(
                "The timetable has no more lesson today.",
                remedy="Say which class: companion open CLASS_GROUP",
            )
        return self._open(opening, source)

    def _opening_now(self) -> Opening | None:
        """Return the lesson that the timetable has now, or else the next one of today."""
        now = self.clock.wall()
        lesson = self._timetable and (self._timetable.due(now) or self._timetable.next_after(now))
        if not lesson or lesson.begins.date() != now.astimezone(lesson.begins.tzinfo).date():
            return None
        return Opening(lesson.class_group, lesson.plan, lesson.room)

    def _open_or_close(self, action: Action, source: Source) -> None:
        """Open or close a session by hand, without a word about which; a tone tells whether it was done."""
        session = self._recorder.session
        if action is Action.CLOSE:
            done = self._close(source) is not None
        else:
            opening = self._opening_now() or Opening(UNPLANNED)
            done = session is None or session.class_group != opening.class_group
            if done:
                self._open(opening, source)
        self._sound(Tone.NOTE if done else Tone.REFUSAL)

    def _close(self, source: Source) -> Session | None:
        self._stop_ear()
        session = self._recorder.close(source)
        log.info("the session was closed (%s)", source)
        self._look_at_the_day()
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

    def _record(self, session_id: str, bodies: tuple[ev.Body, ...], request: str | None) -> Session:
        session = self._recorder.record(session_id, bodies, request=request)
        if session.settled:
            self.clips.forget(session_id)
        self._look_at_the_day()
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
            for body in recorded.bodies:
                letter = {ev.MarkMade: "m", ev.NearMissHeard: "c"}.get(type(body))
                if letter:
                    self._keep(session_id, f"{letter}{recorded.session.last_seq}", catch.sound)
            if before is not None and before.id == session_id:
                self._follow()
                self._confirm(before, recorded.bodies)

    def _keep(self, session_id: str, item: str, sound: Sound) -> None:
        self.clips.keep(session_id, item, sound)
        if self._kept_clips:
            self._kept_clips.keep(session_id, item, sound, self.clock.wall().date())

    def _confirm(self, before: Session | None, bodies: tuple[ev.Body, ...]) -> None:
        """Let a tone tell what is in the log now."""
        session = self._recorder.session
        if before is None or session is None:
            self._sound(Tone.REFUSAL)
            return
        for body in bodies:
            match body:
                case ev.MarkMade(kind=Kind.PRAISE):
                    self._sound(Tone.PRAISE)
                case ev.MarkMade():
                    self._sound(Tone.REMINDER)
                case ev.NoteOpened():
                    self._sound(Tone.NOTE)
                case ev.UndoAsked():
                    in_vain = session.vain_undos > before.vain_undos
                    self._sound(Tone.REFUSAL if in_vain else Tone.UNDO)

    def _sound(self, tone: Tone) -> None:
        if self._tones:
            self._tones.play(tone)

    def _follow(self) -> None:
        """Let microphone and viewers follow what the session has become."""
        session = self._recorder.session
        wanted = session is not None and not session.paused and self._open_spotter is not None
        if wanted and self._ear is None and session is not None:
            self._start_ear(session)
        elif not wanted:
            self._stop_ear()
        self._publish()

    def _publish(self) -> None:
        session = self._recorder.session
        listening, (trouble, remedy) = Listening.OFF, ("", "")
        if session is not None and session.paused:
            listening = Listening.PAUSED
        elif self._ear is not None:
            trouble, remedy = next(iter(self._troubles.values()), ("", ""))
            listening = Listening.TROUBLED if trouble else Listening.ON
        self.state = LiveState(
            session, self._recorder.zero_s, listening, trouble, remedy, self._coming, self._waiting
        )
        for subscriber in list(self._subscribers):
            try:
                subscriber(self.state)
            except Exception:
                log.exception("a viewer could not be told")

    def _start_ear(self, session: Session) -> None:
        open_spotter = self._open_spotter
        assert open_spotter is not None
        settings = self.settings

        def deliver(catch: Catch) -> None:
            self._catches.put((session.id, catch))
            with suppress(RuntimeError):
                self.soon(self._catch)

        def on_trouble(trouble: Trouble | None, since_s: float) -> None:
            words = (trouble.words, trouble.remedy) if trouble else None
            self._hear_of(session.id, "microphone", words, since_s)

        def on_failure(what: str | None, since_s: float) -> None:
            words = (what, "It is tried again by itself.") if what else None
            self._hear_of(session.id, "recogniser", words, since_s)

        microphone = self._open_microphone(settings.listening.microphone or None, on_trouble)
        self._ear = Ear(microphone, lambda: open_spotter(settings, session), deliver, on_failure)

    def _stop_ear(self) -> None:
        """Close the microphone at once; what was said until now is recorded when it is decided."""
        ear, self._ear = self._ear, None
        if ear is not None:
            ear.close()
            self._troubles.clear()
            self._recorder.regain_hearing(self.clock.steady_s())

    def _hear_of(self, session_id: str, who: str, words: tuple[str, str] | None, since_s: float) -> None:
        """Note from another thread that a part of the ear has a trouble, or has it no more."""

        def note() -> None:
            session = self._recorder.session
            if self._ear is None or session is None or session.id != session_id:
                return
            self._troubles.pop(who, None)
            if words:
                self._troubles[who] = words
            reason = next(iter(self._troubles.values()), None)
            if reason:
                log.warning("nothing is heard: %s", reason[0])
                self._recorder.lose_hearing(reason[0], since_s)
            else:
                self._recorder.regain_hearing(since_s)
            self._publish()

        with suppress(RuntimeError):
            self.soon(note)

    def _forget_settled(self) -> None:
        """Drop the sounds of sessions that were settled, here or by another program, and outdated ones."""
        if self._kept_clips and self._kept_clips.purge(self.clock.wall().date()):
            log.info("clips on disk were removed: their last day is past")
        for session_id in self.clips.sessions:
            if self._log.session(session_id).settled:
                self.clips.forget(session_id)
