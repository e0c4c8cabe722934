"""What is going on now: the session that is open, and everything that happens to it, into the session log.

It runs on one thread, knows no other, and takes its time from a clock that it is given. What it returns
is durable.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta

from companion.clock import Clock
from companion.config import Settings
from companion.heartbeat import Heartbeat
from companion.lesson import event as ev
from companion.lesson.command import Command
from companion.lesson.mark import Source
from companion.lesson.plan_clock import phase_due
from companion.lesson.session import Session
from companion.listening.candidate import Candidate
from companion.log.store import SessionLog
from companion.writer import SessionWriter

CONTINUED_WITHIN = timedelta(hours=2)
"""A session that was left longer ago than this was not interrupted but forgotten, and is closed."""


@dataclass(frozen=True, slots=True)
class Opening:
    """Which session to open."""

    class_group: str
    plan: str | None = None
    """None: the first plan of the settings."""
    room: str = ""
    """Empty: the room of the settings."""


class Recorder:
    """Keeps the session that is going on, if there is one, and records what happens to it."""

    def __init__(self, log: SessionLog, settings: Settings, clock: Clock, heartbeat: Heartbeat) -> None:
        self._log = log
        self._settings = settings
        self._clock = clock
        self._heartbeat = heartbeat
        self._writer: SessionWriter | None = None
        self._commands: Mapping[str, Command] = {}
        self.zero_s = 0.0
        """When the session opened, on the steady clock."""
        self._lost: str | None = None

    @property
    def session(self) -> Session | None:
        """The session that is going on; None between two."""
        return None if self._writer is None else self._writer.session

    @property
    def now_ms(self) -> int:
        """Milliseconds since the session opened."""
        return self.offset_ms(self._clock.steady_s())

    def offset_ms(self, steady_s: float) -> int:
        """Return a moment of the steady clock as milliseconds since the session opened, at least 0."""
        return max(0, round((steady_s - self.zero_s) * 1000))

    def open(self, opening: Opening, source: Source, engine: str | None) -> Session:
        """Open a session; the one before it is closed first.

        Raises CompanionError if there is no such plan or the disk does not take it.
        """
        plan = self._settings.plan(opening.plan)
        self.close(source)
        opened = ev.SessionOpened(
            opening.class_group,
            plan,
            levels=self._settings.levels_table(),
            tables=self._settings.school.tables,
            room=opening.room or self._settings.school.room,
            engine=engine,
            carry_over=self._log.carry_over(opening.class_group),
        )
        self.zero_s = self._clock.steady_s()
        return self._begin(SessionWriter.open(self._log, opened, self._clock.wall))

    def go_on(self) -> Session | None:
        """Go on with the session that a crash or a restart interrupted, and return it if there is one."""
        newest = self._log.summaries(most=1)
        if not newest or newest[0].closed or newest[0].settled:
            return None
        session = self._log.session(newest[0].session)
        last = self._log.events(session.id)[-1]
        seen = [(last.offset_ms, last.at)]
        seen += [beat] if (beat := self._heartbeat.last(session.id)) else []
        last_ms, last_at = max(seen)
        away = max(timedelta(0), self._clock.wall() - last_at)
        at_ms = last_ms + round(away.total_seconds() * 1000)
        self.zero_s = self._clock.steady_s() - at_ms / 1000
        writer = SessionWriter(self._log, session, self._clock.wall)
        if away > CONTINUED_WITHIN:
            writer.append(ev.SessionClosed(last_ms, Source.CLOCK), now_ms=at_ms)
            return None
        writer.append(ev.CompanionRestarted(last_ms, at_ms), now_ms=at_ms)
        return self._begin(writer)

    def close(self, source: Source) -> Session | None:
        """Close the session that is going on to listening, and return it; None if there is none."""
        if self._writer is None:
            return None
        closed = self._writer.close(at_ms=self.now_ms, source=source)
        self._writer = None
        self._heartbeat.stop()
        return closed

    def command(self, command: Command, steady_s: float, source: Source) -> tuple[ev.Body, ...]:
        """Carry out what a hand asked for, and return what was recorded.

        steady_s: when the key went down.
        """
        if self._writer is None:
            return ()
        at_ms = self.offset_ms(steady_s)
        return self._writer.command(command, at_ms=at_ms, source=source, now_ms=self.now_ms).bodies

    def candidate(self, candidate: Candidate, zero_s: float) -> tuple[ev.Body, ...]:
        """Carry out or note what was heard, and return what was recorded.

        zero_s: when the spotter's own time 0 was, on the steady clock.
        """
        if self._writer is None or candidate.phrase not in self._commands:
            return ()
        offset_ms = round((zero_s - self.zero_s) * 1000)
        return self._writer.candidate(candidate, self._commands, offset_ms=offset_ms).bodies

    def lose_hearing(self, reason: str, steady_s: float) -> None:
        """Record that nothing is heard from a moment on; another reason begins another stretch."""
        if self._writer is not None and reason != self._lost:
            self.regain_hearing(steady_s)
            self._writer.append(ev.HearingLost(self.offset_ms(steady_s), reason), now_ms=self.now_ms)
            self._lost = reason

    def regain_hearing(self, steady_s: float) -> None:
        """Record that sound is heard again from a moment on."""
        if self._writer is not None and self._lost is not None:
            self._writer.append(ev.HearingRegained(self.offset_ms(steady_s)), now_ms=self.now_ms)
            self._lost = None

    def record(self, session_id: str, body: ev.Body) -> Session:
        """Record a step of the review, the reflection or the settling in any session, and return it.

        Raises CompanionError if the session can't take it.
        """
        if self._writer is not None and session_id == self._writer.session.id:
            return self._writer.append(body, now_ms=self.now_ms)
        session, wall = self._log.session(session_id), self._clock.wall()
        since_ms = round((wall - session.opened_at).total_seconds() * 1000)
        return self._log.append(session_id, body, at=wall, offset_ms=max(session.last_ms, since_ms))

    def follow_plan(self) -> bool:
        """Let the plan's clock begin the phases that are due, and return whether one was."""
        moved = False
        while self._writer is not None and (due := phase_due(self._writer.session, self.now_ms)):
            self._writer.append(due, now_ms=self.now_ms)
            moved = True
        return moved

    def beat(self) -> None:
        """Note that the session is still being watched, for the gap that a crash would leave."""
        if self.session is not None:
            self._heartbeat.beat(self.session.id, self.now_ms, self._clock.wall())

    def _begin(self, writer: SessionWriter) -> Session:
        self._writer = writer
        self._commands = self._settings.commands_in(writer.session.plan)
        self._lost = None
        self.beat()
        return writer.session
