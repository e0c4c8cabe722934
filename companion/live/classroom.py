"""The work of a lesson that is going on, done on one thread: recorder, ear, the day, sounds and tones.

Whatever a job came to, `follow` brings the ear and what is shown in line with what is: nobody has to think of
it in each place where something may fail.
"""

import logging
from contextlib import suppress

from companion.clock import Clock
from companion.errors import CompanionError
from companion.language import _
from companion.lesson import event as ev
from companion.lesson.command import Action, Command
from companion.lesson.mark import Source
from companion.lesson.nudge import nudges
from companion.lesson.opening import UNPLANNED, Opening
from companion.lesson.plan import Plan
from companion.lesson.session import Session
from companion.listening.ear import Catch, Ear
from companion.live.agenda import Agenda
from companion.live.announcer import Announcer
from companion.live.errands import Errands
from companion.live.heard_sounds import HeardSounds
from companion.live.lesson_ear import LessonEar, Words
from companion.live.state import Listening, LiveState
from companion.log.plain_errors import LogError
from companion.log.store import SessionLog
from companion.recording.naming import naming
from companion.recording.recorder import Recorder
from companion.recording.writer import Recorded
from companion.settings.settings import Settings
from companion.sounding.confirmation import tones_for
from companion.sounding.sounds import Tone
from companion.sounding.tones import Tones

log = logging.getLogger(__name__)

BEAT_EVERY_S = 5.0


class Classroom:
    """Everything that happens in a lesson, one thing after the other. It belongs to one thread."""

    def __init__(  # noqa: PLR0917 - its parts
        self,
        session_log: SessionLog,
        recorder: Recorder,
        day: Agenda,
        errands: Errands,
        ear: LessonEar,
        sounds: HeardSounds,
        tones: Tones | None,
        announcer: Announcer,
        clock: Clock,
    ) -> None:
        self._log = session_log
        self._recorder = recorder
        self._day = day
        self._errands = errands
        self._ear = ear
        self._sounds = sounds
        self._tones = tones
        self._announcer = announcer
        self._clock = clock
        self._beaten_s = 0.0

    @property
    def settings(self) -> Settings:
        """Those in use."""
        return self._day.settings

    def begin(self) -> Session | None:
        """Go on with the session that was interrupted, and return it if there was one."""
        session = self._recorder.go_on()
        self._watch_log()
        self._look()
        self._sounds.tidy(self._log, self.settings, self._clock.wall().date())
        return session

    def end(self) -> None:
        """Save what is not written yet and let go of the log. An open session can be gone on with later."""
        self._recorder.end()
        self._log.close()
        if self._tones:
            self._tones.close()
        self._sounds.close()

    def stop_listening(self) -> Ear | None:
        """Close the microphone at once; return what will still deliver what was said until now."""
        ear = self._ear.stop()
        if ear is not None:
            self._recorder.regain_hearing(self._clock.steady_s())
        return ear

    def tick(self) -> None:
        """Do what the time asks for."""
        self._recorder.write()
        self._watch_log()
        self._recorder.follow_plan()
        if self._clock.steady_s() - self._beaten_s >= BEAT_EVERY_S:
            self._beaten_s = self._clock.steady_s()
            self._recorder.look_again()
            self._recorder.beat()
            self._follow_settings()
            self._follow_timetable()
            self._sounds.tidy(self._log, self.settings, self._clock.wall().date())

    def stand_still(self, from_s: float, to_s: float) -> None:
        """Record that the whole computer stood still between two moments of the steady clock."""
        log.warning("the computer stood still for %.0f s", to_s - from_s)
        self._recorder.stand_still(from_s, to_s)

    def open(self, opening: Opening, source: Source) -> Session:
        """Open a session; the one that is open is closed first."""
        settings = self._day.newest_settings(opening.plan)
        settings.plan(opening.plan)
        self._recorder.close(source)
        self._take_up(settings)
        session = self._recorder.open(opening, source, self._ready_engine(opening.plan))
        log.info("a session was opened (%s)", source)
        self._look()
        return session

    def open_lesson(self, source: Source) -> Session:
        """Open the lesson that the timetable has now, or else the next one of today, early or late."""
        opening = self._day.opening_now()
        if opening is None:
            raise CompanionError(
                _("The timetable has no lesson to open today."),
                remedy=_("Say which class: companion open CLASS_GROUP"),
            )
        session = self._recorder.session
        if session is not None and session.class_group == opening.class_group:
            raise CompanionError(
                _("{class_group} is open already.", class_group=session.class_group),
                safe=_("It goes on."),
                remedy=_("Another class: companion open CLASS_GROUP"),
            )
        return self.open(opening, source)

    def close(self, source: Source, asked_s: float | None = None) -> Session | None:
        """Close the session that is open, and return it; None if there is none."""
        session = self._recorder.close(source, asked_s)
        log.info("the session was closed (%s)", source)
        self._look()
        return session

    def name(self, class_group: str, plan: str | None, source: Source, session_id: str) -> Session:
        """Say which class group a session is of."""
        session = self._log.session(session_id) if session_id else self._recorder.session or self._log.find()
        now_ms = self._recorder.now_ms
        bodies = naming(self._log, self.settings, session, class_group, plan, now_ms, source)
        return self.record(session.id, bodies, None)

    def command(
        self, command: Command, at_s: float, source: Source, request: str | None = None
    ) -> Recorded | None:
        """Carry out what a hand asked for, and let a tone tell what became of it."""
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
        self._confirm(before, recorded)
        return recorded

    def take_back(self, session_id: str, source: Source, request: str | None) -> Recorded:
        """Take back what was done last in any session."""
        before = self._recorder.session
        taken = self._recorder.take_back(session_id, source, request=request)
        self._look()
        self._confirm(before or taken.session, taken)
        return taken

    def record(self, session_id: str, bodies: tuple[ev.Body, ...], request: str | None) -> Session:
        """Record steps of review, reflection or settling in any session."""
        session = self._recorder.record(session_id, bodies, request=request).session
        if session.settled:
            self._sounds.settle(session, self.settings)
        self._look()
        return session

    def catch(self, session_id: str, catch: Catch) -> None:
        """Record what the ear has caught."""
        before = self._recorder.session
        try:
            recorded = self._recorder.candidate(session_id, catch.candidate, catch.zero_s)
        except CompanionError as error:
            log.error("what was heard could not be recorded: %s", error)
            self._sound(Tone.REFUSAL)
            return
        if recorded is None:
            return
        self._sounds.keep(recorded, catch.sound, self._clock.wall().date())
        if before is not None and before.id == session_id:
            self._confirm(before, recorded)

    def note_trouble(self, session_id: str, part: str, words: Words | None, since_s: float) -> None:
        """Take note of what is the matter with a part of the ear, or that it is well again."""
        if not self._ear.note(session_id, part, words):
            return
        if trouble := self._ear.trouble:
            log.warning("nothing is heard: %s", trouble[0])
            self._recorder.lose_hearing(trouble[0], since_s)
        else:
            self._recorder.regain_hearing(since_s)

    def follow(self) -> None:
        """Let microphone and viewers follow what the session has become."""
        session = self._recorder.session
        if session is not None and self._tones:
            self._tones.wake()
        listened = None if session is None or session.paused or self._silent_for(session) else session
        if not self._ear.listens_to(listened):
            self.stop_listening()
            if listened is not None:
                self._ear.start(self.settings, listened)
        state = self._state()
        self._nudge(state)
        self._announcer.tell(state)

    def engine_in(self, plan: Plan) -> str:
        """Return the name of the engine that listens in a lesson with `plan`."""
        return self._ear.engine_in(self.settings, plan)

    def _state(self) -> LiveState:
        session = self._recorder.session
        listening, (trouble, remedy) = Listening.OFF, ("", "")
        if session is not None and session.paused:
            listening = Listening.PAUSED
        elif session is not None and self._silent_for(session):
            listening = Listening.GUEST
        elif session is not None and self._ear.can_listen:
            trouble, remedy = self._ear.trouble or ("", "")
            listening = Listening.TROUBLED if trouble else Listening.ON
        wish = self.settings.nudge.wish()
        return LiveState(
            session,
            self._recorder.zero_s,
            listening,
            trouble,
            remedy,
            self._day.coming,
            self._day.waiting,
            self._day.overdue,
            () if session is None else nudges(session, self._recorder.now_ms, wish),
            self._day.settings_news,
            self._recorder.waiting,
            self._recorder.trouble,
            self._recorder.rescued,
        )

    def _silent_for(self, session: Session) -> bool:
        """Whether nothing listens, since a guest teaches."""
        return session.by_guest and self.settings.listening.for_guests == "off"

    def _nudge(self, state: LiveState) -> None:
        """Let a soft tone tell that there is something new to say to the teacher, where that is wished."""
        known = {nudge.reason for nudge in self._announcer.state.nudges}
        if self.settings.nudge.tone and any(nudge.reason not in known for nudge in state.nudges):
            self._sound(Tone.NUDGE)

    def _watch_log(self) -> None:
        """See to it that other content in the log's file is noticed."""
        with suppress(LogError):
            self._log.watch()

    def _look(self) -> None:
        """Look what the day has; a log that can't be read just now leaves it as it was."""
        try:
            self._day.look()
        except LogError as error:
            log.warning("the day could not be looked up: %s", error)

    def _follow_timetable(self) -> None:
        """Open the session whose time has come, and close one that is long over."""
        session = self._recorder.session
        opening = self._day.to_open(session)
        if opening is not None:
            self.open(opening, Source.CLOCK)
        elif session is not None and self._day.is_over(session):
            self.close(Source.CLOCK)
        self._look()

    def _follow_settings(self) -> None:
        """Take up changed settings if no session is open, which would have begun with others."""
        newest = self._day.newest_settings()
        if self._recorder.session is None:
            self._take_up(newest)

    def _take_up(self, settings: Settings) -> None:
        if not self._day.use(settings):
            return
        self._recorder.settings = settings
        if self._tones:
            self._tones.volume = settings.tones.volume
        log.info("changed settings were taken up")

    def _ready_engine(self, plan: str | None) -> str | None:
        """Return the engine that will listen, or None: a lesson is held without one, too."""
        if not self._ear.can_listen:
            return None
        try:
            return self.engine_in(self.settings.plan(plan))
        except Exception as error:
            log.warning("no engine is ready: %s", error)
            return None

    def _open_or_close(self, action: Action, source: Source) -> None:
        """Open or close a session by hand, without a word about which; a tone tells whether it was done."""
        session = self._recorder.session
        if action is Action.CLOSE:
            self._sound(Tone.NOTE if self.close(source) is not None else Tone.REFUSAL)
            return
        opening = self._day.opening_now()
        if session is None:
            self.open(opening or Opening(UNPLANNED), source)
        elif opening is None:
            # Nothing says that another class has come: whoever means it closes this lesson first.
            self._sound(Tone.QUESTION)
            return
        elif opening.class_group == session.class_group:
            self._sound(Tone.REFUSAL)
            return
        else:
            self.open(opening, source)
        if self._recorder.waiting:
            self._sound_waiting()
        else:
            self._sound(Tone.NOTE)

    def _confirm(self, before: Session | None, recorded: Recorded | None) -> None:
        """Let a tone tell what is in the log now, or that it waits for the log."""
        if recorded is not None and recorded.again:
            return
        if recorded is not None and recorded.waits:
            self._sound_waiting()
            return
        if recorded is not None and recorded.in_vain:
            self._sound(Tone.REFUSAL)
            return
        bodies = recorded.bodies if recorded else ()
        for tone in tones_for(before, self._recorder.session, bodies):
            self._sound(tone)

    def _sound_waiting(self) -> None:
        """Let a tone tell that the step waits, unless it was late and told so before."""
        if not self._errands.told:
            self._sound(Tone.WAITING)

    def _sound(self, tone: Tone) -> None:
        if self._tones:
            self._tones.play(tone)
