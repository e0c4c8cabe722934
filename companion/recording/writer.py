"""The one writer of a session: commands and candidates in, durable events out."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from companion.lesson.command import Command
from companion.lesson.conduct import HeardPhrase, carry_out, near_miss
from companion.lesson.event import Body, Event, PhaseBegan, SessionClosed, SessionOpened
from companion.lesson.fold import Telling
from companion.lesson.mark import Source
from companion.lesson.session import Session
from companion.listening.candidate import Candidate
from companion.log.store import OvertakenError, SessionLog

WallTime = Callable[[], datetime]
"""Wall time with zone, for people's eyes."""
Decide = Callable[[Session], Sequence[Body]]
"""What is to be recorded of a session as it is."""


@dataclass(frozen=True, slots=True)
class Recorded:
    """What became of a command or a candidate, after it is durable."""

    session: Session
    events: tuple[Event, ...]
    """Those that were recorded; none if there was nothing to change."""
    again: bool = False
    """Whether it was recorded before, at an earlier asking."""

    @property
    def bodies(self) -> tuple[Body, ...]:
        """What happened by it."""
        return tuple(event.body for event in self.events)


class SessionWriter:
    """Appends to one session, from one thread. It keeps the session: an append does not fold it again."""

    def __init__(self, log: SessionLog, telling: Telling, wall: WallTime) -> None:
        self._telling = telling
        self._log = log
        self._wall = wall

    @classmethod
    def open(
        cls, log: SessionLog, opened: SessionOpened, wall: WallTime, *, begins_in: str | None = None
    ) -> "SessionWriter":
        """Open a new session in `log`, in its plan's first phase or in `begins_in`, at zero."""
        first = begins_in or opened.plan.phases[0].name
        session = log.open_session(opened, wall())
        writer = cls(log, log.telling(session.id), wall)
        writer.append(PhaseBegan(first, 0, Source.CLOCK), now_ms=0)
        return writer

    @property
    def session(self) -> Session:
        """What the log held at the last append or look."""
        return self._telling.session

    def append(self, *bodies: Body, now_ms: int, request: str | None = None) -> Recorded:
        """Record `bodies` at `now_ms` milliseconds since the session opened: all of them or none.

        request: a ULID of the asker; what it asks for again is recorded once.

        Raises CompanionError if the session can't take them or the disk does not.
        """
        return self.decide(lambda _: bodies, now_ms=now_ms, request=request)

    def decide(self, decide: Decide, *, now_ms: int, request: str | None = None) -> Recorded:
        """Record what `decide` makes of the session, as `append` does.

        It is asked again where another program has written into the session meanwhile.
        """
        while True:
            before = self.session
            bodies = decide(before)
            if not bodies:
                return Recorded(before, ())
            try:
                self._telling = self._log.go_on(
                    self._telling, bodies, at=self._wall(), offset_ms=now_ms, request=request
                )
            except OvertakenError:
                self.look_again()
                continue
            new = self._telling.events[before.last_seq :]
            if request is None or (new and new[0].id == request):
                return Recorded(self.session, new)
            first = tuple(event for event in self._telling.events if event.id == request)
            return Recorded(self.session, first, again=True)

    def look_again(self) -> bool:
        """Take up what another program has written into the session, and return whether there was any.

        Raises CompanionError if the session is no longer in the log.
        """
        before = self.session.last_seq
        self._telling = self._log.catch_up(self._telling)
        return before != self.session.last_seq

    def command(
        self,
        command: Command,
        *,
        at_ms: int,
        source: Source,
        now_ms: int | None = None,
        request: str | None = None,
    ) -> Recorded:
        """Carry out `command`, asked for at `at_ms` and recorded at `now_ms` (by default the same)."""
        return self.decide(
            lambda session: carry_out(session, command, at_ms, source),
            now_ms=at_ms if now_ms is None else now_ms,
            request=request,
        )

    def candidate(
        self, candidate: Candidate, commands: Mapping[str, Command], *, offset_ms: int = 0
    ) -> Recorded:
        """Carry out what was heard, or record it as a near miss.

        commands: what each phrase does. offset_ms: where the spotter's own time 0 lies in the session.
        """
        command = commands[candidate.phrase] if candidate.phrase else None
        at_ms = candidate.begin_ms + offset_ms
        heard = HeardPhrase(candidate.phrase, candidate.confidence, candidate.engine, candidate.reasons)

        def decide(session: Session) -> Sequence[Body]:
            if candidate.fired and command is not None:
                return carry_out(session, command, at_ms, Source.VOICE, heard)
            return (near_miss(command, at_ms, heard),)

        return self.decide(decide, now_ms=candidate.decided_ms + offset_ms)

    def close(self, *, at_ms: int, source: Source, now_ms: int | None = None) -> Session:
        """Record at `now_ms` (by default the same) that the lesson is over since `at_ms`."""
        return self.decide(
            lambda session: () if session.closed else (SessionClosed(at_ms, source),),
            now_ms=at_ms if now_ms is None else now_ms,
        ).session
