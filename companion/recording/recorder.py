"""What is going on now: the session that is open, and everything that happens to it, into the session log.

It runs on one thread, knows no other, and takes its time from a clock that it is given. What it returns
is durable.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

from companion.clock import Clock
from companion.errors import CompanionError
from companion.lesson import event as ev
from companion.lesson.command import Action, Command
from companion.lesson.mark import Source
from companion.lesson.opening import Opening
from companion.lesson.plan_clock import phase_due
from companion.lesson.session import Session
from companion.lesson.undo import reopens, take_back
from companion.listening.candidate import Candidate
from companion.log.care import waiting_for
from companion.log.store import SessionLog
from companion.recording.heartbeat import Heartbeat
from companion.recording.writer import Recorded, SessionWriter
from companion.settings.settings import Settings

CONTINUED_WITHIN = timedelta(hours=2)
"""A session that was left longer ago than this was not interrupted but forgotten, and is closed."""


@dataclass(frozen=True, slots=True)
class _Going:
    """A session with its writer, and its zero on the steady clock."""

    writer: SessionWriter
    zero_s: float


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

        Raises CompanionError if there is no such plan or the disk does not take it.
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
            waiting=waiting_for(self._log, opening.class_group),
        )
        zero_s = self._clock.steady_s()
        writer = SessionWriter.open(self._log, opened, self._clock.wall, begins_in=begins_in)
        return self._begin(writer, zero_s)

    def go_on(self) -> Session | None:
        """Go on with the session that a crash or a restart interrupted, and return it if there is one."""
        newest = self._log.summaries(most=1)
        if not newest or newest[0].closed or newest[0].settled:
            return None
        telling = self._log.telling(newest[0].session)
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

    def close(self, source: Source, steady_s: float | None = None) -> Session | None:
        """Close the session that is going on to listening, and return it; None if there is none.

        steady_s: when that was asked for; None: now.
        """
        if self._going is None:
            return None
        at_ms = self.now_ms if steady_s is None else self.offset_ms(steady_s)
        closed = self._going.writer.close(at_ms=at_ms, source=source, now_ms=self.now_ms)
        self._notice_the_end()
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
        at_ms = self.offset_ms(steady_s)
        recorded = self._going.writer.command(
            command, at_ms=at_ms, source=source, now_ms=self.now_ms, request=request
        )
        self._notice_the_end()
        return recorded

    def candidate(self, session_id: str, candidate: Candidate, zero_s: float) -> Recorded | None:
        """Carry out or note what was heard; late, when its session was closed meanwhile, it counts there.

        zero_s: when the spotter's own time 0 was, on the steady clock. None: there is nothing to do.

        Raises CompanionError if the session is settled by now or the disk does not take it.
        """
        for going in (self._going, self._before):
            if going is None or going.writer.session.id != session_id:
                continue
            commands = self.settings.commands_in(going.writer.session.plan)
            if not candidate.phrase or candidate.phrase in commands:
                offset_ms = round((zero_s - going.zero_s) * 1000)
                recorded = going.writer.candidate(candidate, commands, offset_ms=offset_ms)
                self._notice_the_end()
                return recorded
        return None

    def lose_hearing(self, reason: str, steady_s: float) -> None:
        """Record that nothing is heard from a moment on; another reason begins another stretch."""
        if self._going is not None and reason != self._lost:
            self.regain_hearing(steady_s)
            self._going.writer.append(ev.HearingLost(self.offset_ms(steady_s), reason), now_ms=self.now_ms)
            self._lost = reason

    def regain_hearing(self, steady_s: float) -> None:
        """Record that sound is heard again from a moment on."""
        if self._going is not None and self._lost is not None:
            self._going.writer.append(ev.HearingRegained(self.offset_ms(steady_s)), now_ms=self.now_ms)
            self._lost = None

    def record(self, session_id: str, bodies: Sequence[ev.Body], *, request: str | None = None) -> Recorded:
        """Record steps of the review, the reflection or the settling in any session, all or none.

        request: as for `command`.

        Raises CompanionError if the session can't take them.
        """
        if self._going is not None and session_id == self._going.writer.session.id:
            recorded = self._going.writer.append(*bodies, now_ms=self.now_ms, request=request)
            self._notice_the_end()
            return recorded
        writer = SessionWriter(self._log, self._log.telling(session_id), self._clock.wall)
        session = writer.session
        goes_on = any(reopens(session, body) for body in bodies)
        if goes_on and self._going is not None:
            raise CompanionError(
                f"The lesson of {self._going.writer.session.class_group} is going on.",
                safe="The one before it stays ended; nothing was taken back.",
                remedy="End this one first.",
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
            moved.append(self._going.writer.append(due, now_ms=self.now_ms))
        return moved

    def beat(self) -> None:
        """Note that the session is still being watched, for the gap that a crash would leave."""
        if self.session is not None and self._heartbeat:
            self._heartbeat.beat(self.session.id, self.now_ms, self._clock.wall())

    def look_again(self) -> bool:
        """Take up what another program has written into the session, and return whether there was any."""
        if self._going is None:
            return False
        if not self._log.newest(self._going.writer.session.id):
            # It was purged.
            self._let_go()
            return True
        changed = self._going.writer.look_again()
        self._notice_the_end()
        return changed

    def _begin(self, writer: SessionWriter, zero_s: float) -> Session:
        self._going = _Going(writer, zero_s)
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
