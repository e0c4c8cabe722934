"""What is going on now: the session that is open, and everything that happens to it, into the session log.

It runs on one thread, knows no other, and takes its time from a clock that it is given. What it returns is
durable, or says that it waits: what a hand, a voice or the clock asked for in a lesson stays in memory while
the log can't be written, and is written in its order, with its own times, when it can.
"""

import logging
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import timedelta

from companion.clock import Clock
from companion.errors import CompanionError
from companion.language import _
from companion.lesson import event as ev
from companion.lesson.carry_over import CarriedOver
from companion.lesson.command import Action, Command
from companion.lesson.mark import Source
from companion.lesson.opening import Opening
from companion.lesson.plan_clock import phase_due
from companion.lesson.session import Session
from companion.lesson.span import STOOD_STILL
from companion.lesson.undo import reopens, take_back
from companion.listening.candidate import Candidate
from companion.log.care import waiting_for
from companion.log.plain_errors import LogError
from companion.log.store import SessionLog
from companion.log.summary import Summary
from companion.recording.heartbeat import Heartbeat
from companion.recording.remembered import Remembered
from companion.recording.rescue import RescueFile
from companion.recording.writer import Recorded, SessionWriter
from companion.settings.settings import Settings

logger = logging.getLogger(__name__)

CONTINUED_WITHIN = timedelta(hours=2)
"""A session that was left longer ago than this was not interrupted but forgotten, and is closed."""


@dataclass(frozen=True, slots=True)
class _Going:
    """A session with its writer, and its zero on the steady clock."""

    writer: SessionWriter
    zero_s: float


PATIENCE_S, SHORT_PATIENCE_S = 2.0, 0.1
"""How long another program may hold the log: usually, and while something waits for it already."""


class Recorder:
    """Keeps the session that is going on, if there is one, and records what happens to it."""

    def __init__(
        self, log: SessionLog, settings: Settings, clock: Clock, heartbeat: Heartbeat | None = None
    ) -> None:
        """Make ready; heartbeat: None where a crash need leave no trace."""
        self.settings = settings
        """Those of the next session that is opened."""
        self._log = log
        self._clock = clock
        self._heartbeat = heartbeat
        self._going: _Going | None = None
        self._before: _Going | None = None
        self._lost: str | None = None
        self._unwritten: list[SessionWriter] = []
        self._rescue = RescueFile.beside(log.path)
        self._remembered = Remembered(log)
        log.wait_for_others(PATIENCE_S)
        self.trouble: LogError | None = None
        """Why the log could not be written last; None when it could."""
        self.rescued = True
        """Whether what waits lies beside the log meanwhile."""

    @property
    def waiting(self) -> int:
        """How many steps wait in memory for the log."""
        return sum(writer.waiting for writer in self._unwritten)

    @property
    def session(self) -> Session | None:
        """The session that is going on; None between two."""
        return None if self._going is None else self._going.writer.session

    @property
    def zero_s(self) -> float:
        """When that session opened, on the steady clock; 0 between two."""
        return 0.0 if self._going is None else self._going.zero_s

    @property
    def now_ms(self) -> int:
        """Milliseconds since the session opened."""
        return self.offset_ms(self._clock.steady_s())

    def offset_ms(self, steady_s: float) -> int:
        """Return a moment of the steady clock as milliseconds since the session opened, at least 0."""
        return max(0, round((steady_s - self.zero_s) * 1000))

    def open(
        self, opening: Opening, source: Source, engine: str | None, *, begins_in: str | None = None
    ) -> Session:
        """Open a session; the one before it is closed first.

        begins_in: the phase that it begins in; None: the first of its plan.

        Raises CompanionError if there is no such plan.
        """
        plan = self.settings.plan(opening.plan)
        self.close(source)
        opened = ev.SessionOpened(
            opening.class_group,
            plan,
            levels=self.settings.levels_table(),
            tables=self.settings.school.tables,
            room=opening.room or self.settings.school.room,
            engine=engine,
            holds_marks=self.settings.telling.marks == "held",
            waiting=self._waiting_for(opening.class_group),
        )
        zero_s = self._clock.steady_s()
        writer = SessionWriter.open(self._log, opened, self._clock.wall, begins_in=begins_in, may_wait=True)
        self._see_to(writer)
        return self._begin(writer, zero_s)

    def go_on(self) -> Session | None:
        """Go on with the session that a crash or a restart interrupted, and return it if there is one.

        What a rescue file beside the log holds is taken up first.
        """
        if rescued := self._rescue.take_up(self._log):
            logger.warning("%d events of the rescue file were taken up", rescued)
        interrupted = self._interrupted()
        if interrupted is None:
            return None
        telling = self._log.telling(interrupted.session)
        last = telling.events[-1]
        seen = [(last.offset_ms, last.at)]
        if self._heartbeat and (beat := self._heartbeat.last(telling.session.id)):
            seen.append(beat)
        last_ms, last_at = max(seen)
        away = max(timedelta(0), self._clock.wall() - last_at)
        at_ms = last_ms + round(away.total_seconds() * 1000)
        writer = SessionWriter(self._log, telling, self._clock.wall)
        if away > CONTINUED_WITHIN:
            writer.append(ev.SessionClosed(last_ms, Source.CLOCK), now_ms=at_ms)
            return None
        writer.append(ev.CompanionRestarted(last_ms, at_ms), now_ms=at_ms)
        return self._begin(writer, self._clock.steady_s() - at_ms / 1000)

    def _interrupted(self) -> Summary | None:
        """Return the session that was watched last, else the one written last: the clock may have jumped."""
        left = self._log.left_open()
        watched = self._heartbeat.session if self._heartbeat else None
        return next((one for one in left if one.session == watched), left[0] if left else None)

    def close(self, source: Source, steady_s: float | None = None) -> Session | None:
        """Close the session that is going on to listening, and return it; None if there is none.

        steady_s: when that was asked for; None: now.
        """
        if self._going is None:
            return None
        at_ms = self.now_ms if steady_s is None else self.offset_ms(steady_s)
        writer = self._going.writer
        closed = writer.close(at_ms=at_ms, source=source, now_ms=self.now_ms, may_wait=True)
        self._see_to(writer)
        return closed

    def command(
        self, command: Command, steady_s: float, source: Source, *, request: str | None = None
    ) -> Recorded | None:
        """Carry out what a hand asked for, and return what was recorded; None if no session is open.

        Undo just after a lesson was ended lets it go on.

        steady_s: when the key went down. request: a ULID of the asker; what it asks for again is recorded
        once.
        """
        if self._going is None:
            if command.action is Action.UNDO and self._before is not None:
                return self.take_back(self._before.writer.session.id, source, request=request)
            return None
        writer, at_ms = self._going.writer, self.offset_ms(steady_s)
        recorded = writer.command(
            command, at_ms=at_ms, source=source, now_ms=self.now_ms, request=request, may_wait=True
        )
        self._see_to(writer)
        return recorded

    def candidate(self, session_id: str, candidate: Candidate, zero_s: float) -> Recorded | None:
        """Carry out or note what was heard; late, when its session was closed meanwhile, it counts there.

        zero_s: when the spotter's own time 0 was, on the steady clock. None: there is nothing to do.

        Raises CompanionError if the session is settled by now.
        """
        for going in (self._going, self._before):
            if going is None or going.writer.session.id != session_id:
                continue
            commands = self.settings.commands_in(going.writer.session.plan)
            if not candidate.phrase or candidate.phrase in commands:
                offset_ms = round((zero_s - going.zero_s) * 1000)
                recorded = going.writer.candidate(candidate, commands, offset_ms=offset_ms, may_wait=True)
                self._see_to(going.writer)
                return recorded
        return None

    def lose_hearing(self, reason: str, steady_s: float) -> None:
        """Record that nothing is heard from a moment on; another reason begins another stretch."""
        if self._going is not None and reason != self._lost:
            self.regain_hearing(steady_s)
            self._append(ev.HearingLost(self.offset_ms(steady_s), reason))
            self._lost = reason

    def regain_hearing(self, steady_s: float) -> None:
        """Record that sound is heard again from a moment on."""
        if self._going is not None and self._lost is not None:
            self._append(ev.HearingRegained(self.offset_ms(steady_s)))
            self._lost = None

    def stand_still(self, from_s: float, to_s: float) -> None:
        """Record that the whole computer stood still between two moments of the steady clock: it was deaf."""
        if self._going is None:
            return
        from_ms, to_ms = self.offset_ms(from_s), self.offset_ms(to_s)
        still: list[ev.Body] = [ev.HearingLost(from_ms, STOOD_STILL), ev.HearingRegained(to_ms)]
        if self._lost is not None:
            # What was the matter before is still the matter afterwards.
            still = [ev.HearingRegained(from_ms), *still, ev.HearingLost(to_ms, self._lost)]
        self._append(*still)

    def _append(self, *bodies: ev.Body) -> None:
        """Record what happened by itself in the session that goes on."""
        assert self._going is not None
        writer = self._going.writer
        writer.append(*bodies, now_ms=self.now_ms, may_wait=True)
        self._see_to(writer)

    def record(self, session_id: str, bodies: Sequence[ev.Body], *, request: str | None = None) -> Recorded:
        """Record steps of the review, the reflection or the settling in any session, all or none.

        request: as for `command`.

        Raises CompanionError if the session can't take them or the log does not.
        """
        if self._going is not None and session_id == self._going.writer.session.id:
            recorded = self._going.writer.append(*bodies, now_ms=self.now_ms, request=request)
            self._notice_the_end()
            return recorded
        writer = SessionWriter(self._log, self._log.telling(session_id), self._clock.wall)
        self._remembered.add(writer)
        session = writer.session
        goes_on = any(reopens(session, body) for body in bodies)
        if goes_on and self._going is not None:
            class_group = self._going.writer.session.class_group
            raise CompanionError(
                _("The lesson of {class_group} is going on.", class_group=class_group),
                safe=_("The one before it stays ended; nothing was taken back."),
                remedy=_("End this one first."),
            )
        now_ms = self._now_in(session)
        recorded = writer.append(*bodies, now_ms=now_ms, request=request)
        if goes_on and not recorded.session.closed:
            self._begin(writer, self._clock.steady_s() - now_ms / 1000)
        return recorded

    def take_back(self, session_id: str, source: Source, *, request: str | None = None) -> Recorded:
        """Take back what was done last in any session; a lesson whose end is taken back goes on.

        request: as for `command`.

        Raises CompanionError if another lesson is going on by now, or the session can't take it.
        """
        session = self._log.session(session_id)
        body = take_back(session, self._now_in(session), source)
        return self.record(session_id, (body,), request=request)

    def _now_in(self, session: Session) -> int:
        """Return the time now in a session that may be over: never before its last event."""
        since = self._clock.wall() - session.opened_at
        return max(session.last_ms, round(since.total_seconds() * 1000))

    def follow_plan(self) -> list[Recorded]:
        """Let the plan's clock begin the phases that are due, and return what that recorded."""
        moved = []
        while self._going is not None and (due := phase_due(self._going.writer.session, self.now_ms)):
            writer = self._going.writer
            moved.append(writer.append(due, now_ms=self.now_ms, may_wait=True))
            self._see_to(writer)
        return moved

    def beat(self) -> None:
        """Note that the session is still being watched, for the gap that a crash would leave."""
        if self.session is not None and self._heartbeat:
            self._heartbeat.beat(self.session.id, self.now_ms, self._clock.wall())

    def look_again(self) -> bool:
        """Take up what another program has written into the session, and return whether there was any."""
        if self._unwritten:
            return False
        changed = self._going is not None and self._look_at_session(self._going.writer)
        if self._remembered.look_again():
            self._before = None
        return changed

    def _look_at_session(self, writer: SessionWriter) -> bool:
        if not self._log.newest(writer.session.id):
            self._let_go()  # It was purged.
            return True
        changed = writer.look_again()
        self._notice_the_end()
        return changed

    def write(self) -> None:
        """Write what waits, if the log can be written by now.

        A log that was deleted, moved or replaced is told of, and what the file in its place lacks of the
        session that goes on is written into it.
        """
        if not self._unwritten and not self._log.moved:
            return
        try:
            if self._log.moved:
                self._move()
            for writer in list(self._unwritten):
                writer.write()
                self._unwritten.remove(writer)
            self._rescue.drop()
        except LogError as error:
            self._note(error)
        else:
            self._note(None)
        self._notice_the_end()

    def end(self) -> bool:
        """Save what waits still beside the log; return whether nothing is lost."""
        self.write()
        self.beat()
        if self._unwritten and not self._rescue.keep(writer.events for writer in self._unwritten):
            logger.error("%d steps could neither be written nor saved", self.waiting)
            return False
        return True

    def _move(self) -> None:
        """Use the file in the log's place. Raises LogError if there is none."""
        mine = {writer.session.id: writer for writer in (*self._remembered.writers, *self._unwritten)}
        self._note(self._log.moved_error)
        for writer in mine.values():
            self._see_to(writer, at_least=True)
        self._log.reopen()
        for writer in mine.values():
            writer.move()
        logger.warning("the session log was replaced; the sessions of this run were written into it")

    def _see_to(self, writer: SessionWriter, *, at_least: bool = False) -> None:
        """Remember a writer whose steps wait, and let go of a session that is over."""
        if (writer.waiting or at_least) and writer not in self._unwritten:
            self._unwritten.append(writer)
        if writer.waiting and not at_least:
            self._note(writer.trouble)
        self._notice_the_end()

    def _note(self, trouble: LogError | None) -> None:
        """Take note of how the log is, and keep what waits where a crash does not take it."""
        if (trouble is None) != (self.trouble is None):
            logger.warning("%s", trouble or "the log can be written again")
            with suppress(LogError):
                self._log.wait_for_others(SHORT_PATIENCE_S if trouble else PATIENCE_S)
        self.trouble = trouble
        if trouble:
            self.rescued = self._rescue.keep(writer.events for writer in self._unwritten)

    def _waiting_for(self, class_group: str) -> tuple[CarriedOver, ...]:
        try:
            return waiting_for(self._log, class_group)
        except LogError as error:
            logger.warning("what waits for the class can't be read: %s", error)
            return ()

    def _begin(self, writer: SessionWriter, zero_s: float) -> Session:
        self._going = _Going(writer, zero_s)
        self._remembered.add(writer)
        self._lost = None
        self.beat()
        return writer.session

    def _notice_the_end(self) -> None:
        """Let go of a session that was closed, by whichever way."""
        if self._going is not None and self._going.writer.session.closed:
            self._before = self._going
            self._let_go()

    def _let_go(self) -> None:
        self._going = None
        if self._heartbeat:
            self._heartbeat.stop()
