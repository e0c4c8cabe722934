"""What the pages ask of the lesson behind them, and the answer where only the log is there.

The pages read every session from the log, so that they never show what is not durable. Only writes,
sound and the state of microphone and keys go through here.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from companion.errors import CompanionError
from companion.language import _
from companion.lesson.command import Command
from companion.lesson.event import Body, SessionClosed
from companion.lesson.mark import Source
from companion.lesson.session import Session
from companion.lesson.timetable import Lesson
from companion.log.store import open_log
from companion.recording.writer import SessionWriter

if TYPE_CHECKING:
    from companion.listening.sound import Sound


@dataclass(frozen=True, slots=True)
class Status:
    """How microphone and keys are, in words for a glance."""

    microphone: str
    """As in `Listening`, `Paused`, `Microphone lost`."""
    hearing: bool = False
    """Whether the microphone is open just now."""
    keys: str = ""
    """As in `Keys work everywhere`; empty where nothing is to be said of keys."""
    troubles: tuple[str, ...] = ()
    """Each a sentence with its remedy."""
    nudge: str = ""
    """A quiet line for the teacher's own practice; never for the class."""


@dataclass(frozen=True, slots=True)
class Choice:
    """What can be opened from a page just now."""

    plans: tuple[str, ...]
    """Names of the plans, the usual one first."""
    class_groups: tuple[str, ...] = ()
    """Those of the timetable."""
    coming: Lesson | None = None
    """The lesson whose time it is or that comes next, if it is one of today."""
    bring: str = ""
    """What the class of that lesson brings, by its plan."""


class WaitsError(CompanionError):
    """What was asked for is taken, and waits in memory for the log: it is not on the pages yet."""


class LessonPort(Protocol):
    """What the pages need. Each method may be called from any thread and returns when it is done.

    `request` is a ULID that the page made for one wish of the teacher's. A wish that comes again with
    the same one is recorded once (`SessionLog.append_all`).
    """

    def status(self, session_id: str) -> Status:
        """Return how microphone and keys are for that session."""
        ...

    def subscribe(self, news: Callable[[], None]) -> Callable[[], None] | None:
        """Call `news`, from any thread, whenever the lesson has changed; return what ends that.

        None: nobody announces anything here.
        """
        ...

    def choice(self) -> Choice | None:
        """Return what can be opened, or None where no lesson is held from here."""
        ...

    def today(self) -> tuple[Lesson, ...]:
        """Return the lessons of the timetable today; none where there is no timetable."""
        ...

    def open(self, class_group: str, plan: str | None, room: str, *, request: str) -> Session:
        """Open a session, the one that is open being closed first; return it when it is durable.

        class_group: "" for one that is not known yet. plan, room: None and "" are those of the settings.

        Raises CompanionError if there is no such plan, or where no lesson is held from here.
        """
        ...

    def now_ms(self, session: Session) -> int:
        """Return milliseconds since `session` opened."""
        ...

    def submit(self, session_id: str, command: Command, *, request: str, ago_s: float = 0.0) -> Session:
        """Carry out `command` as asked for on the page `ago_s` seconds ago; return when it is durable.

        Raises CompanionError if the session can't take it or the disk does not.
        """
        ...

    def close(self, session_id: str, *, request: str) -> Session:
        """End the lesson, if it is going on still; return when that is durable."""
        ...

    def append(self, session_id: str, bodies: Sequence[Body], *, request: str) -> Session:
        """Record `bodies` together; return when they are durable.

        Raises CompanionError if the session can't take them or the disk does not.
        """
        ...

    def sounds(self, session_id: str) -> frozenset[str]:
        """Return the ids of the marks and near misses whose sound is still in memory."""
        ...

    def sound(self, session_id: str, item: str) -> "Sound | None":
        """Return the sound of a mark or near miss, or None if it is not there."""
        ...


class LogPort:
    """The port over the log alone: no lesson is going on in this process.

    SQLite keeps the order with a lesson that another process may be writing.
    """

    def __init__(self, log: Path, clock: Callable[[], datetime]) -> None:
        self._log = log
        self._clock = clock

    def status(self, session_id: str) -> Status:  # noqa: ARG002 - the protocol's own signature
        """Nothing listens here."""
        return Status(_("Not listening here"))

    def subscribe(self, news: Callable[[], None]) -> Callable[[], None] | None:  # noqa: ARG002 - as above
        """Announce nothing."""
        return None

    def choice(self) -> Choice | None:
        """Nothing can be opened: nobody would listen."""
        return None

    def today(self) -> tuple[Lesson, ...]:
        """No timetable is followed here."""
        return ()

    def open(self, class_group: str, plan: str | None, room: str, *, request: str) -> Session:  # noqa: ARG002
        """Refuse."""
        raise CompanionError(
            _("These pages only show what is in the log."),
            remedy=_("Start the companion with: companion start"),
        )

    def now_ms(self, session: Session) -> int:
        """Return milliseconds of wall time since `session` opened."""
        return round((self._clock() - session.opened_at).total_seconds() * 1000)

    def submit(self, session_id: str, command: Command, *, request: str, ago_s: float = 0.0) -> Session:
        """Carry out `command` at once."""
        with open_log(self._log) as log:
            telling = log.telling(session_id)
            now_ms = self._next_ms(telling.session)
            writer = SessionWriter(log, telling, self._clock)
            at_ms = max(0, now_ms - round(ago_s * 1000))
            return writer.command(
                command, at_ms=at_ms, now_ms=now_ms, source=Source.PAGE, request=request
            ).session

    def close(self, session_id: str, *, request: str) -> Session:
        """End the lesson at once."""
        with open_log(self._log) as log:
            session = log.session(session_id)
            if session.closed:
                return session
            now_ms = self._next_ms(session)
            closed = SessionClosed(now_ms, Source.PAGE)
            return log.append(session_id, closed, at=self._clock(), offset_ms=now_ms, request=request)

    def append(self, session_id: str, bodies: Sequence[Body], *, request: str) -> Session:
        """Record `bodies` at once."""
        with open_log(self._log) as log:
            now_ms = self._next_ms(log.session(session_id))
            return log.append_all(session_id, bodies, at=self._clock(), offset_ms=now_ms, request=request)

    def sounds(self, session_id: str) -> frozenset[str]:  # noqa: ARG002 - the protocol's own signature
        """No sound is kept."""
        return frozenset()

    def sound(self, session_id: str, item: str) -> "Sound | None":  # noqa: ARG002 - as above
        """No sound is kept."""
        return None

    def _next_ms(self, session: Session) -> int:
        """Return the time of an event now; never before the last one, whatever the wall clock does."""
        return max(session.last_ms, self.now_ms(session))
