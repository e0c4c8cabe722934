"""The session log: append and read. One connection serves one thread; one thread writes."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from datetime import date, datetime
from pathlib import Path
from typing import Self

from ulid import ULID

from companion.errors import CompanionError
from companion.language import _
from companion.lesson.event import Body, Event, SessionOpened
from companion.lesson.fold import Telling, tell
from companion.lesson.refusal import is_after_settling, is_after_the_end, refusal
from companion.lesson.session import Session
from companion.log.codec import event_of, row_of
from companion.log.database import Database
from companion.log.file import connected, keep_writable, make_log
from companion.log.plain_errors import SQLITE_ERRORS, WAY_OUT, plain_errors
from companion.log.seal import insert_sealed
from companion.log.stamp import Stamp, put_right
from companion.log.summary import Summary, Tally, summary_from, write_summary
from companion.log.whereabouts import WAITING, LogMovedError, Whereabouts, beside, is_empty
from companion.paths import private_folder


class OvertakenError(CompanionError):
    """The session in the log is another than the one that was decided on; nothing was recorded now."""

    def __init__(self, session_id: str) -> None:
        super().__init__(
            _("Another program has just written into session {session}.", session=session_id),
            safe=_("Everything recorded before is safe."),
            remedy=_("Look at it and try again."),
        )


class SessionLog:
    """The append-only record of everything that happened, in one SQLite file.

    What `append` returns is durable: committed in WAL mode with a full sync. Open it with `open_log`, in
    the thread that uses it.
    """

    def __init__(self, db: Database, path: Path) -> None:
        self.path = path
        self._db = db
        self._whereabouts = Whereabouts.of(path)
        self._stamp: Stamp | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the file. Everything appended is in it already."""
        self._db.close()

    def watch(self) -> None:
        """See from now on, where it is due, to a number by which other content in the file is noticed.

        That is for the one program that keeps sessions in memory; it calls this again and again.
        """
        with self.reading():
            self._stamp = self._stamp or Stamp(self._db, self.path)
            if not self._whereabouts.left:
                self._stamp.renew()

    @property
    def moved(self) -> bool:
        """Whether the file, or one that belongs to it, was deleted, moved away, replaced or written over."""
        return self._whereabouts.left or self._is_overwritten

    @property
    def moved_error(self) -> LogMovedError:
        """What there is to say of a log that has moved."""
        return self._whereabouts.error(overwritten=self._is_overwritten)

    @property
    def _is_overwritten(self) -> bool:
        return self._stamp is not None and self._stamp.is_foreign and self._whereabouts.holds_log

    def reopen(self) -> None:
        """Use the file that is at the path now. Raises CompanionError if it is no session log."""
        if not self.path.exists() or is_empty(self.path):
            raise self.moved_error
        if self._is_overwritten:
            try:
                put_right(self.path)
            except (OSError, *SQLITE_ERRORS) as error:
                raise self.moved_error from error
            self._db.close()
        elif self._whereabouts.holds_log:
            # SQLite has one view of a log for all of a process: a second connection would share the old one.
            self._bring_home()
            self._db.close()
        fresh = open_log(self.path)
        self._db.close()
        self._db, self._whereabouts = fresh._db, fresh._whereabouts  # noqa: SLF001 - its own kind
        if self._stamp:
            self._stamp = Stamp(self._db, self.path)

    def _bring_home(self) -> None:
        """Put what is in a file that has no name any more into the log, unless there is another by now."""
        waiting = beside(self.path, WAITING)
        if not waiting.exists() or not waiting.stat().st_size:
            with suppress(*SQLITE_ERRORS):
                self._db.execute("PRAGMA wal_checkpoint(TRUNCATE)")

    def wait_for_others(self, limit_s: float) -> None:
        """Wait no longer than `limit_s` for another program that is just writing."""
        with self.reading():
            self._db.execute(f"PRAGMA busy_timeout = {round(limit_s * 1000)}")

    def open_session(self, opened: SessionOpened, at: datetime) -> Session:
        """Record that a session opened at `at`, and return it. Its offset 0 is now."""
        return self.append(str(ULID()), opened, at=at, offset_ms=0)

    def append(
        self, session_id: str, body: Body, *, at: datetime, offset_ms: int, request: str | None = None
    ) -> Session:
        """Record `body` as the next event of the session and return the session as it is then.

        at: wall time with zone. offset_ms: monotonic milliseconds since the session opened. request: as
        for `append_all`.

        Raises CompanionError if the session can't take the event (`companion.lesson.refusal`)
        or the disk does not take it; nothing is recorded then.
        """
        return self.append_all(session_id, (body,), at=at, offset_ms=offset_ms, request=request)

    def append_all(
        self,
        session_id: str,
        bodies: Sequence[Body],
        *,
        at: datetime,
        offset_ms: int,
        request: str | None = None,
    ) -> Session:
        """Record `bodies`, at least one, as the next events of the session: all of them or none.

        request: a ULID that the asker made. It becomes the first event's id, so that a request that is
        sent again, since its answer was lost, is recorded once.

        Raises CompanionError as `append` does.
        """
        with self.writing():
            events = self._events(session_id)
            telling = tell(events) if events else None
            if telling and request is not None and any(event.id == request for event in events):
                return telling.session
            after = go_on(session_id, telling, bodies, at=at, offset_ms=offset_ms, request=request)
            self._insert(after, events[-1].seq if events else 0)
        return after.session

    def write(self, after: Telling, *, expected: int) -> None:
        """Record the events of `after` that follow number `expected`, the newest of the session in the log.

        That is for one who keeps the session (`go_on`): it need not be read again.

        Raises OvertakenError if another program has recorded something in it since, and LogError if the
        disk does not take it or the file is no longer at its place; nothing is recorded then.
        """
        with self.writing():
            if self.moved:
                raise self.moved_error
            if self.newest(after.session.id) != expected:
                raise OvertakenError(after.session.id)
            self._insert(after, expected)
        if self.moved:
            raise self.moved_error

    def newest(self, session_id: str) -> int:
        """Return the number of the session's newest event; 0 if it is not in the log."""
        with self.reading():
            found = self._db.execute("SELECT max(seq) FROM event WHERE session = ?", [session_id]).fetchone()
        return int(found[0] or 0)

    def telling(self, session_id: str) -> Telling:
        """Return a session that can go on. Raises CompanionError if it is not in the log."""
        events = self.events(session_id)
        if not events:
            raise _no_session(session_id)
        return tell(events)

    def events(self, session_id: str) -> list[Event]:
        """Return the events of a session in their order; none for an unknown session."""
        with self.reading():
            return self._events(session_id)

    def session(self, session_id: str) -> Session:
        """Return a session as its events tell it.

        Raises CompanionError if it is not in the log.
        """
        return self.telling(session_id).session

    def find(self, beginning: str | None = None) -> Session:
        """Return the session whose id begins with `beginning`, or the newest one.

        Raises CompanionError if there is none or more than one.
        """
        if beginning is None:
            newest = self.summaries(most=1)
            if not newest:
                raise CompanionError(
                    _("There is no session in the log yet."), remedy=_("Try one with: companion demo")
                )
            return self.session(newest[0].session)
        with self.reading():
            found = [
                row["session"]
                for row in self._db.query(
                    "SELECT session FROM summary WHERE session >= :low AND session < :high LIMIT 2",
                    {"low": beginning.upper(), "high": beginning.upper() + "~"},
                )
            ]
        if len(found) > 1:
            raise CompanionError(
                _("More than one session begins with '{beginning}'.", beginning=beginning),
                remedy=_("Give more of its name."),
            )
        return self.session(found[0] if found else beginning)

    def summaries(self, class_group: str | None = None, *, most: int | None = None) -> list[Summary]:
        """Return the summaries of all sessions or of one class group's, newest first."""
        return self._summaries("TRUE", class_group, most)

    def unsettled(self, class_group: str | None = None) -> list[Summary]:
        """Return the summaries of sessions that are not settled, newest first."""
        return self._summaries("NOT settled", class_group)

    def newest_over(self, *, settled: bool = False) -> Summary | None:
        """Return the summary of the newest session that is over, or settled; None if there is none."""
        return next(iter(self._summaries("settled" if settled else "(closed OR settled)", most=1)), None)

    def _summaries(
        self, where: str, class_group: str | None = None, most: int | None = None
    ) -> list[Summary]:
        """Return the summaries of which `where` holds, newest first."""
        own = " AND class_group = :class_group" if class_group is not None else ""
        with self.reading() as db:
            rows = db.table("summary").rows_where(
                where + own,
                {"class_group": class_group} if own else None,
                order_by="julianday(opened_at) DESC, session DESC",
                limit=most,
            )
            return [summary_from(row) for row in rows]

    def left_open(self) -> list[Summary]:
        """Return the summaries of sessions that are neither closed nor settled, the last written first."""
        last = "(SELECT max(event.rowid) FROM event WHERE event.session = summary.session)"
        with self.reading():
            rows = self._db.table("summary").rows_where("NOT closed AND NOT settled", order_by=f"{last} DESC")
            return [summary_from(row) for row in rows]

    def days(self, since: date = date.min) -> dict[date, int]:
        """Return how many sessions were opened on each day from one on, by the clock on the wall of then."""
        day = "substr(opened_at, 1, 10)"
        sql = f"SELECT {day}, count(*) FROM summary WHERE {day} >= :since GROUP BY 1"  # noqa: S608
        with self.reading():
            rows = self._db.execute(sql, {"since": since.isoformat()})
            return {date.fromisoformat(day): number for day, number in rows}

    def summary(self, session_id: str) -> Summary | None:
        """Return the summary of one session; None if it is not in the log."""
        with self.reading():
            rows = self._db.table("summary").rows_where("session = ?", [session_id])
            return next((summary_from(row) for row in rows), None)

    def tallies(self, class_group: str | None = None) -> list[Tally]:
        """Return standing marks by session, phase and routine, of all class groups or of one."""
        sql = "SELECT tally.* FROM tally JOIN summary USING (session)"
        where = " WHERE class_group = :class_group" if class_group is not None else ""
        with self.reading():
            rows = self._db.query(sql + where, {"class_group": class_group} if where else None)
            return [Tally(**row) for row in rows]

    def class_groups(self) -> list[str]:
        """Return the names of all class groups in the log, in the order of the alphabet."""
        with self.reading():
            return [name for (name,) in self._db.execute(_CLASS_GROUPS)]

    def _insert(self, after: Telling, known: int) -> None:
        """Put the events of `after` that follow number `known` into the tables, inside a transaction."""
        if rows := [row_of(event) for event in after.events if event.seq > known]:
            insert_sealed(self._db, rows)
        write_summary(self._db, after.session)

    def _events(self, session_id: str) -> list[Event]:
        sql = "SELECT * FROM event WHERE session = :session ORDER BY seq"
        return [event_of(row) for row in self._db.query(sql, {"session": session_id})]

    @contextmanager
    def writing(self) -> Iterator[Database]:
        """Hold the right to write from the first read on, so that sequence numbers have no gap.

        What was done in the block is committed at its end, or undone if it raises.
        """
        with self.reading() as db:
            db.conn.execute("BEGIN IMMEDIATE")
            try:
                yield db
                db.conn.execute("COMMIT")
            except BaseException:
                db.conn.rollback()
                raise

    @contextmanager
    def reading(self) -> Iterator[Database]:
        """Lend the database for what this class does not offer; errors become plain sentences."""
        with plain_errors(self.path):
            yield self._db


_CLASS_GROUPS = """
    WITH RECURSIVE found (name) AS (
        SELECT min(class_group) FROM summary
        UNION ALL
        SELECT (SELECT min(class_group) FROM summary WHERE class_group > name) FROM found
        WHERE name IS NOT NULL
    )
    SELECT name FROM found WHERE name IS NOT NULL
"""
"""From name to name by the index, since years of lessons have few names."""


def go_on(
    session_id: str,
    telling: Telling | None,
    bodies: Sequence[Body],
    *,
    at: datetime,
    offset_ms: int,
    request: str | None = None,
) -> Telling:
    """Return the session after `bodies`, at least one, which are not in the log yet.

    telling: the session until now; None for one that begins. request: as for `SessionLog.append_all`.

    Raises CompanionError if the session can't take them (`companion.lesson.refusal`).
    """
    ids = [request or str(ULID()), *(str(ULID()) for _ in bodies[1:])]
    for event_id, body in zip(ids, bodies, strict=True):
        _refuse(session_id, telling, body)
        seq = telling.session.last_seq + 1 if telling else 1
        event = Event(event_id, session_id, seq, at, offset_ms, body, batch=ids[0])
        telling = telling.go_on(event) if telling else tell((event,))
    assert telling is not None
    return telling


def _no_session(session_id: str) -> CompanionError:
    return CompanionError(
        _("There is no session '{session_id}' in the log.", session_id=session_id),
        remedy=_("See what is there with: companion sessions"),
    )


def _refuse(session_id: str, telling: Telling | None, body: Body) -> None:
    if telling is None and not isinstance(body, SessionOpened):
        raise _no_session(session_id)
    if telling and (reason := refusal(telling.session, body)):
        raise CompanionError(
            _("This can't be recorded: {reason}.", reason=reason),
            safe=_("Everything recorded before is safe."),
            remedy=_remedy(telling.session, body),
        )


def _remedy(session: Session, body: Body) -> str:
    """Return what to do in place of what the session can't take; "" where the reason says all."""
    if is_after_settling(session, body):
        return _("A settled session opens again with: {command}", command='companion reopen --reason "…"')
    return _("Add what was missed in the review.") if is_after_the_end(session, body) else ""


def open_log(path: Path) -> SessionLog:
    """Open the session log at `path`, made anew if it is not there, private to the user (0600).

    Raises CompanionError if it is not a session log, is from a newer version, or can't be written.
    """
    private_folder(path.parent)
    with plain_errors(path):
        if not path.exists():
            make_log(path)
        else:
            keep_writable(path)
        if not path.stat().st_size:
            raise CompanionError(
                _("The session log {path} was emptied.", path=path),
                safe=_("Its backups were not touched."),
                remedy=_(WAY_OUT),
            )
        db = connected(path)
    return SessionLog(db, path)
