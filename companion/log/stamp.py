"""A number in the log's file by which the companion that runs knows it.

Other content that is copied into the very same file, as by `cp old.db sessions.db`, leaves its place and all
that SQLite looks at as they were: SQLite would go on with its newest pages upon older ones. So the number is
another one each time that the file itself was written to, which is seldom, and a look at it is due only when
the system says that it was.
"""

import secrets
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from datetime import datetime
from pathlib import Path

from companion.errors import CompanionError
from companion.log.copies import set_aside
from companion.log.damage import page_damages
from companion.log.database import Database
from companion.log.plain_errors import SQLITE_ERRORS, is_of_the_disk
from companion.paths import sqlite_uri

MOST = 2**31 - 1
"""What SQLite keeps for whoever uses a file (https://sqlite.org/pragma.html#pragma_application_id)."""
STILL_S = 1.0
"""What is copied into the file is looked at when nothing was written for so long."""
WHOLE_WITHIN_S = 30.0
"""What is not whole then comes from a slow disk, or never will be: after so long it counts as damaged."""


class Stamp:
    """Keeps the number of one log, upon the connection of whoever watches it."""

    def __init__(self, db: Database, path: Path) -> None:
        self._db = db
        self._path = path
        self._known, self._next = _number_in(path), _another()
        self._seen: tuple[int, int] | None = None
        """How the system told of the file after it was stamped last."""
        self._ours: tuple[int, int] | None = None
        """How it told of it when its number was looked at last."""

    @property
    def is_foreign(self) -> bool:
        """Whether other content was put into the file."""
        shape = _shape(self._path)
        if shape is None or shape in (self._seen, self._ours):
            return False
        try:
            number = _number_in(self._path)
        except SQLITE_ERRORS as error:
            return not is_of_the_disk(error)
        if number not in (self._known, self._next):
            return True
        self._ours = shape
        return False

    def renew(self) -> None:
        """Give the file another number if it was written to since, and if nobody has to be waited for."""
        if _shape(self._path) == self._seen or self.is_foreign:
            return
        with suppress(*SQLITE_ERRORS), _without_waiting(self._db):
            self._db.execute(f"PRAGMA application_id = {self._next}")
            self._db.execute("PRAGMA wal_checkpoint(PASSIVE)")
            shape = _shape(self._path)
            if _number_in(self._path) == self._next:
                self._known, self._next = self._next, _another()
            self._seen = shape


def put_right(path: Path) -> None:
    """Make the content that was copied into the log the log, in a file of its own.

    What SQLite keeps beside it belongs to the content of before, and is set aside with it untouched. Content
    that is damaged is set aside alone: then there is no log.

    Raises OSError or sqlite3.Error if the disk does not let us, and BlockingIOError as long as it is copied.
    """
    now = datetime.now().astimezone()
    lain_s = now.timestamp() - path.stat().st_mtime
    if lain_s < STILL_S:
        raise BlockingIOError
    fresh = path.with_name(f"{path.name}.restored")
    fresh.unlink(missing_ok=True)
    if not (is_whole := _copied(path, fresh)):
        fresh.unlink(missing_ok=True)
        if lain_s < WHOLE_WITHIN_S:
            raise BlockingIOError
    try:
        set_aside(path, now)
    except CompanionError as error:
        fresh.unlink(missing_ok=True)
        raise OSError(str(error)) from error
    if is_whole:
        fresh.rename(path)


def _copied(path: Path, fresh: Path) -> bool:
    """Copy what lies in a file to a new one, and return whether it is a whole database."""
    try:
        with closing(_as_it_lies(path)) as source, closing(sqlite3.connect(fresh)) as copy:
            source.backup(copy)
            damages = page_damages(copy)
    except SQLITE_ERRORS as error:
        if is_of_the_disk(error):
            raise
        return False
    fresh.chmod(0o600)
    return not damages


@contextmanager
def _without_waiting(db: Database) -> Iterator[None]:
    (patience_ms,) = db.execute("PRAGMA busy_timeout").fetchone()
    db.execute("PRAGMA busy_timeout = 0")
    try:
        yield
    finally:
        db.execute(f"PRAGMA busy_timeout = {patience_ms}")


def _another() -> int:
    return 1 + secrets.randbelow(MOST)


def _as_it_lies(path: Path) -> sqlite3.Connection:
    """Return a connection that reads the file alone, without what waits beside it.

    SQLite opens it, since closing a file of a process drops all locks that SQLite has on it.
    """
    return sqlite3.connect(sqlite_uri(path, "ro") + "&immutable=1", uri=True)


def _number_in(path: Path) -> int:
    with closing(_as_it_lies(path)) as db:
        return int(db.execute("PRAGMA application_id").fetchone()[0])


def _shape(path: Path) -> tuple[int, int] | None:
    """Return when the file was written to and how long it is; None if it is not there."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_mtime_ns, found.st_size
