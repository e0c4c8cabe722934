"""What a log did not take, in a file beside it, so that it outlasts the companion."""

import json
import logging
import sqlite3
from collections.abc import Iterable
from contextlib import closing, suppress
from itertools import count, groupby
from pathlib import Path
from typing import Any

from companion.errors import CompanionError
from companion.lesson.event import Event, SessionOpened
from companion.lesson.fold import tell
from companion.log.codec import event_of, row_of
from companion.log.database import Database
from companion.log.forget import Choose, Doomed
from companion.log.schema import migrations
from companion.log.store import SessionLog
from companion.paths import replace_file, rescue_beside

log = logging.getLogger(__name__)


class RescueFile:
    """Sessions with steps that the log did not take, whole, an event a line; private to the user (0600)."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._kept = ""

    @classmethod
    def beside(cls, log_path: Path) -> "RescueFile":
        """Return the rescue file of the log at `log_path`."""
        return cls(rescue_beside(log_path))

    def keep(self, sessions: Iterable[Iterable[Event]]) -> bool:
        """Write `sessions` in place of what was kept; return whether the disk takes it."""
        lines = "".join(
            json.dumps(row_of(event), ensure_ascii=False) + "\n" for events in sessions for event in events
        )
        if lines == self._kept:
            return True
        try:
            replace_file(self.path, lines.encode())
        except OSError:
            return False
        self._kept = lines
        return True

    def drop(self) -> None:
        """Remove the file: the log has all of it."""
        if self._kept:
            with suppress(OSError):
                self.path.unlink(missing_ok=True)
                self._kept = ""

    def take_up(self, session_log: SessionLog) -> int:
        """Write into the log what it lacks of the sessions that are kept; return how many events that were.

        A session that went on differently in the log, or can't be read, stays in the file, under another
        name: this one is written anew as soon as the log can't be written again.

        Raises CompanionError if the log does not take it; the file stays then.
        """
        try:
            lines = self.path.read_bytes().splitlines()
        except FileNotFoundError:
            return 0
        except OSError as error:
            log.warning("the rescue file can't be read: %s", error)
            self._put_aside()
            return 0
        events = [event for line in lines if (event := _event_in(line)) is not None]
        taken, whole = 0, len(events) == len(lines)
        for session_id, kept in groupby(events, key=lambda event: event.session):
            ours, theirs = tuple(kept), session_log.events(session_id)
            known = len(theirs)
            if [event.id for event in ours[:known]] == [event.id for event in theirs] and _is_whole(ours):
                session_log.write(tell(ours), expected=known)
                taken += len(ours) - known
            else:
                whole = {event.id for event in ours} <= {event.id for event in theirs} and whole
        if whole:
            with suppress(OSError):
                self.path.unlink()
        else:
            self._put_aside()
        return taken

    def _put_aside(self) -> None:
        """Give the file a name under which nothing is written over it; it tells nothing of what is in it."""
        names = (self.path.with_name(f"{self.path.stem}-{number}.jsonl") for number in count(2))
        with suppress(OSError):
            self.path.replace(next(path for path in names if not path.exists()))


def _event_in(line: bytes) -> Event | None:
    try:
        return event_of(json.loads(line))
    except (ValueError, KeyError, TypeError, CompanionError) as error:
        log.warning("a line of the rescue file can't be read: %s", type(error).__name__)
        return None


def _is_whole(events: tuple[Event, ...]) -> bool:
    """Whether a session begins with what opens it, and lacks nothing in between."""
    numbers = [event.seq for event in events]
    return isinstance(events[0].body, SessionOpened) and numbers == list(range(1, len(events) + 1))


def forget_rescued(log_path: Path, choose: Choose) -> tuple[int, list[Path]]:
    """Take what is chosen out of the rescue files beside a log, also those that were never taken up.

    Return how much that was, and the files of which it is not known.
    """
    gone, unknown = 0, []
    for path in sorted(log_path.parent.glob(f"{RescueFile.beside(log_path).path.stem}*.jsonl")):
        try:
            rows = [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]
            with closing(Database(memory=True, execute_plugins=False)) as db:
                migrations.apply(db)
                db.table("event").insert_all(rows)
                doomed = choose(db)
            if doomed.count:
                gone += doomed.count
                _write_without(path, rows, doomed)
        except (OSError, ValueError, TypeError, sqlite3.Error) as error:
            log.warning("a rescue file can't be looked through: %s", type(error).__name__)
            unknown.append(path)
    return gone, unknown


def _write_without(path: Path, rows: list[dict[str, Any]], doomed: Doomed) -> None:
    kept = [row for row in rows if row["session"] not in doomed.sessions]
    for row in kept:
        row["kind"], row["body"] = doomed.rows.get(row["id"], (row["kind"], row["body"]))
    if kept:
        replace_file(path, "".join(json.dumps(row, ensure_ascii=False) + "\n" for row in kept).encode())
    else:
        path.unlink()
