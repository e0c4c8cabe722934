"""The one writer of a session: commands and candidates in, durable events out."""

import logging
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial
from itertools import groupby

from ulid import ULID

from companion.errors import CompanionError
from companion.lesson.command import Command
from companion.lesson.conduct import HeardPhrase, carry_out, in_vain, near_miss
from companion.lesson.event import Body, Event, PhaseBegan, SessionClosed, SessionOpened
from companion.lesson.fold import Telling
from companion.lesson.mark import Source
from companion.lesson.session import Session
from companion.listening.candidate import Candidate
from companion.log.plain_errors import LogError
from companion.log.store import OvertakenError, SessionLog, go_on

log = logging.getLogger(__name__)

WallTime = Callable[[], datetime]
"""Wall time with zone, for people's eyes."""
Decide = Callable[[Session], Sequence[Body]]
"""What is to be recorded of a session as it is."""


@dataclass(frozen=True, slots=True)
class Recorded:
    """What became of a command or a candidate."""

    session: Session
    events: tuple[Event, ...]
    """Those that were recorded; none if there was nothing to change."""
    again: bool = False
    """Whether it was recorded before, at an earlier asking."""
    waits: bool = False
    """Whether it is in memory only, since the log can't be written; else it is durable."""
    in_vain: bool = False
    """Whether nothing was recorded since the lesson can't do what was asked for."""

    @property
    def bodies(self) -> tuple[Body, ...]:
        """What happened by it."""
        return tuple(event.body for event in self.events)


@dataclass(slots=True)
class _Step:
    """Something that is to be recorded, and when it was asked for."""

    decide: Decide
    at: datetime
    now_ms: int
    request: str
    events: tuple[Event, ...] = ()
    """What was decided last."""
    refusal: CompanionError | None = None
    """Why the session can't take it, after what another program has written into it."""


def _steps_of(events: Iterable[Event]) -> list[_Step]:
    """Return the steps that record `events` as they are, those of one step together."""
    steps = []
    for _, together in groupby(events, key=lambda event: event.step):
        step = tuple(together)
        bodies = tuple(event.body for event in step)
        steps.append(_Step(partial(_same, bodies), step[0].at, step[0].offset_ms, step[0].id, step))
    return steps


def _same(bodies: Sequence[Body], _: Session) -> Sequence[Body]:
    return bodies


class SessionWriter:
    """Appends to one session, from one thread. It keeps the session: an append does not fold it again.

    What the log does not take may wait in memory: `write` tries again, in order and with its own times.
    """

    def __init__(self, session_log: SessionLog, telling: Telling, wall: WallTime) -> None:
        """Make ready to go on with a session as the log has it."""
        self._log = session_log
        self._wall = wall
        self._telling = telling
        self._durable = telling.session.last_seq
        self._steps: list[_Step] = []
        self.trouble: LogError | None = None
        """Why the steps that wait could not be written."""

    @classmethod
    def open(
        cls,
        session_log: SessionLog,
        opened: SessionOpened,
        wall: WallTime,
        *,
        begins_in: str | None = None,
        may_wait: bool = False,
    ) -> "SessionWriter":
        """Open a new session in the log, in its plan's first phase or in `begins_in`, at zero.

        may_wait: where the log can't be written, hold the lesson in memory.
        """
        first = PhaseBegan(begins_in or opened.plan.phases[0].name, 0, Source.CLOCK)
        writer = cls(session_log, go_on(str(ULID()), None, (opened, first), at=wall(), offset_ms=0), wall)
        writer._durable, writer._steps = 0, _steps_of(writer.events)
        try:
            writer.write()
        except LogError as error:
            if not may_wait:
                raise
            writer.trouble = error
        return writer

    @property
    def session(self) -> Session:
        """The session with all that was asked for, what waits included."""
        return self._telling.session

    @property
    def waiting(self) -> int:
        """How many steps are in memory only."""
        return len(self._steps)

    @property
    def events(self) -> tuple[Event, ...]:
        """All events of the session, what waits included."""
        return self._telling.events

    def append(
        self, *bodies: Body, now_ms: int, request: str | None = None, may_wait: bool = False
    ) -> Recorded:
        """Record `bodies` at `now_ms` milliseconds since the session opened: all of them or none.

        request: a ULID of the asker; what it asks for again is recorded once.

        Raises CompanionError if the session can't take them or, unless it may wait, the log does not.
        """
        return self.decide(lambda _: bodies, now_ms=now_ms, request=request, may_wait=may_wait)

    def decide(
        self, decide: Decide, *, now_ms: int, request: str | None = None, may_wait: bool = False
    ) -> Recorded:
        """Record what `decide` makes of the session, as `append` does.

        It is asked again where another program has written into the session meanwhile.
        """
        known = tuple(event for event in self.events if event.id == request) if request else ()
        if known:
            with suppress(LogError):
                self.look_again()
            return Recorded(self.session, known, again=True, waits=known[0].seq > self._durable)
        before = self._telling
        step = _Step(decide, self._wall(), now_ms, request or str(ULID()))
        self._telling = self._after(before, step)
        if not step.events:
            return Recorded(self.session, ())
        self._steps.append(step)
        try:
            self.write()
        except LogError as error:
            if not may_wait:
                self._steps.remove(step)
                self._telling = before
                if not self._is_written(step):
                    raise
                return Recorded(self.session, step.events)
            self.trouble = error
        except CompanionError:
            # The session was taken out of the log.
            self._steps.clear()
            self._telling = before
            raise
        if step.refusal:
            raise step.refusal
        return Recorded(self.session, step.events, waits=step in self._steps)

    def _is_written(self, step: _Step) -> bool:
        """Whether the log has a step although it said that it could not take it."""
        with suppress(CompanionError):
            self.look_again()
        return not self._log.moved and any(event.id == step.request for event in self.events)

    def write(self) -> None:
        """Write what waits, in order. Raises LogError if the log can't be written still."""
        while self._steps:
            try:
                self._log.write(self._telling, expected=self._durable)
            except OvertakenError:
                self.look_again()
                continue
            self._durable = self.session.last_seq
            self._steps.clear()

    def look_again(self) -> bool:
        """Take up what another program has written into the session, and return whether there was any.

        Raises CompanionError if the session is no longer in the log.
        """
        newest = self._log.newest(self.session.id)
        if newest == self._durable:
            return False
        if 0 < newest < self._durable:
            # An older copy was put in its place.
            self.move()
            return True
        self._decide_anew(self._log.telling(self.session.id))
        return True

    def read_again(self) -> None:
        """Take the session as the log has it by now, unless steps wait; words may have been forgotten there.

        Raises CompanionError if the session is no longer in the log.
        """
        if not self._steps:
            self._telling = self._log.telling(self.session.id)
            self._durable = self.session.last_seq

    def move(self) -> None:
        """Go on in the file that is in the log's place by now: what it lacks of the session waits again."""
        missing = list(self.events)
        found: Telling | None = None
        with suppress(CompanionError):
            found = self._log.telling(self.session.id)
            known = {event.id for event in found.events}
            missing = [event for event in self.events if event.id not in known]
        self._steps = _steps_of(missing)
        self._decide_anew(found)

    def _decide_anew(self, found: Telling | None) -> None:
        """Decide the steps that wait on the session as the log has it; None: it does not have it."""
        telling, self._durable = found, found.session.last_seq if found else 0
        # What the log said that it could not take may be in it all the same.
        known = {event.id for event in found.events} if found else set()
        self._steps = [step for step in self._steps if step.request not in known]
        for step in list(self._steps):
            try:
                telling = self._after(telling, step)
            except CompanionError as error:
                step.refusal = error
                log.warning("what waited can't be recorded any more: %s", error)
        self._steps = [step for step in self._steps if step.events]
        if telling is not None:
            self._telling = telling

    def _after(self, telling: Telling | None, step: _Step) -> Telling:
        """Return `telling` after `step`, which says by its events what it came to."""
        session_id = self._telling.session.id
        bodies = step.decide(telling.session if telling else self.session)
        step.events = ()
        if telling is not None and not bodies:
            return telling
        known = telling.session.last_seq if telling else 0
        after = go_on(session_id, telling, bodies, at=step.at, offset_ms=step.now_ms, request=step.request)
        step.events = after.events[known:]
        return after

    def command(
        self,
        command: Command,
        *,
        at_ms: int,
        source: Source,
        now_ms: int | None = None,
        request: str | None = None,
        may_wait: bool = False,
    ) -> Recorded:
        """Carry out `command`, asked for at `at_ms` and recorded at `now_ms` (by default the same)."""
        recorded = self.decide(
            lambda session: carry_out(session, command, at_ms, source),
            now_ms=at_ms if now_ms is None else now_ms,
            request=request,
            may_wait=may_wait,
        )
        return self._with_failure(recorded, command, at_ms, source)

    def candidate(
        self,
        candidate: Candidate,
        commands: Mapping[str, Command],
        *,
        offset_ms: int = 0,
        may_wait: bool = False,
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

        recorded = self.decide(decide, now_ms=candidate.decided_ms + offset_ms, may_wait=may_wait)
        return self._with_failure(recorded, command, at_ms, Source.VOICE) if command else recorded

    def _with_failure(self, recorded: Recorded, command: Command, at_ms: int, source: Source) -> Recorded:
        """Return `recorded`, which says whether it came to nothing since nothing could be done."""
        if recorded.events or not in_vain(recorded.session, command, at_ms, source):
            return recorded
        return replace(recorded, in_vain=True)

    def close(
        self, *, at_ms: int, source: Source, now_ms: int | None = None, may_wait: bool = False
    ) -> Session:
        """Record at `now_ms` (by default the same) that the lesson is over since `at_ms`."""
        return self.decide(
            lambda session: () if session.closed else (SessionClosed(at_ms, source),),
            now_ms=at_ms if now_ms is None else now_ms,
            may_wait=may_wait,
        ).session
