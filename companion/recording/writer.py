"""The one writer of a session: commands and candidates in, durable events out."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from companion.lesson.command import Command
from companion.lesson.conduct import Heard, carry_out, near_miss
from companion.lesson.event import Body, PhaseBegan, SessionClosed, SessionOpened
from companion.lesson.mark import Source
from companion.lesson.session import Session
from companion.listening.candidate import Candidate
from companion.log.store import SessionLog

Clock = Callable[[], datetime]
"""Wall time with zone, for people's eyes."""


@dataclass(frozen=True, slots=True)
class Recorded:
    """What became of a command or a candidate, after it is durable."""

    session: Session
    bodies: tuple[Body, ...]
    """The events that were recorded; none if the command had nothing to change."""


class SessionWriter:
    """Appends to one session, from one thread.

    `session` is always what the log holds at the last append.
    """

    def __init__(self, log: SessionLog, session: Session, clock: Clock) -> None:
        self.session = session
        self._log = log
        self._clock = clock

    @classmethod
    def open(
        cls, log: SessionLog, opened: SessionOpened, clock: Clock, *, begins_in: str | None = None
    ) -> "SessionWriter":
        """Open a new session in `log`, in its plan's first phase or in `begins_in`, at zero."""
        writer = cls(log, log.open_session(opened, clock()), clock)
        first = begins_in or opened.plan.phases[0].name
        writer.append(PhaseBegan(first, 0, Source.CLOCK), now_ms=0)
        return writer

    def append(self, body: Body, *, now_ms: int, request: str | None = None) -> Session:
        """Record `body` at `now_ms` milliseconds since the session opened.

        request: a ULID of the asker; what it asks for again is recorded once.

        Raises CompanionError if the session can't take it or the disk does not.
        """
        return self.append_all((body,), now_ms=now_ms, request=request)

    def append_all(self, bodies: Sequence[Body], *, now_ms: int, request: str | None = None) -> Session:
        """Record `bodies` together, as `append` does: all of them or none."""
        if bodies:
            self.session = self._log.append_all(
                self.session.id, bodies, at=self._clock(), offset_ms=now_ms, request=request
            )
        return self.session

    def command(
        self,
        command: Command,
        *,
        at_ms: int,
        source: Source,
        heard: Heard | None = None,
        now_ms: int | None = None,
        request: str | None = None,
    ) -> Recorded:
        """Carry out `command`, asked for at `at_ms` and recorded at `now_ms` (by default the same)."""
        bodies = carry_out(self.session, command, at_ms, source, heard)
        self.append_all(bodies, now_ms=at_ms if now_ms is None else now_ms, request=request)
        return Recorded(self.session, bodies)

    def candidate(
        self, candidate: Candidate, commands: Mapping[str, Command], *, offset_ms: int = 0
    ) -> Recorded:
        """Carry out what was heard, or record it as a near miss.

        commands: what each phrase does. offset_ms: where the spotter's own time 0 lies in the session.
        """
        command = commands[candidate.phrase]
        at_ms = candidate.begin_ms + offset_ms
        now_ms = candidate.decided_ms + offset_ms
        heard = Heard(candidate.phrase, candidate.confidence, candidate.engine, candidate.reasons)
        if candidate.fired:
            return self.command(command, at_ms=at_ms, source=Source.VOICE, heard=heard, now_ms=now_ms)
        missed = near_miss(command, at_ms, heard)
        return Recorded(self.append(missed, now_ms=now_ms), (missed,))

    def close(self, *, at_ms: int, source: Source, now_ms: int | None = None) -> Session:
        """Record at `now_ms` (by default the same) that the lesson is over since `at_ms`."""
        return self.append(SessionClosed(at_ms, source), now_ms=at_ms if now_ms is None else now_ms)
