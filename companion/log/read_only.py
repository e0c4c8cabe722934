"""A session log that is read where it lies, as one on another computer's stick."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from companion.errors import CompanionError
from companion.language import _
from companion.log.database import Database
from companion.log.file import BUSY_S, refuse_a_stranger
from companion.log.plain_errors import plain_errors
from companion.log.store import SessionLog
from companion.log.whereabouts import VIEW, WAITING, beside
from companion.paths import sqlite_uri


@contextmanager
def reading_only(path: Path) -> Iterator[SessionLog]:
    """Lend the session log at `path` to be read where it lies: file and folder stay as they are.

    A log that nobody has open is read as it is; beside one that was not closed, SQLite reads what waits in
    its write-ahead log too.

    Raises CompanionError if it is not a session log, is from a newer version, or can't be read.
    """
    waiting, shared = beside(path, WAITING), beside(path, VIEW)
    quiet = not waiting.exists() or not waiting.stat().st_size
    with plain_errors(path):
        in_use = shared.exists()
        address = sqlite_uri(path, "ro") + ("&immutable=1" if quiet else "")
        db = Database(sqlite3.connect(address, uri=True, timeout=BUSY_S), execute_plugins=False)
        try:
            refuse_a_stranger(db, path)
            if not db.table("event").exists():
                raise CompanionError(
                    _("The file {path} is not a session log.", path=path),
                    safe=_("Nothing in it was changed."),
                )
            yield SessionLog(db, path)
        finally:
            db.close()
            if not in_use:
                shared.unlink(missing_ok=True)
