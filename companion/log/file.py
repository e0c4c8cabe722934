"""The log's file: made whole, connected to, brought up to date; what can go wrong in plain sentences."""

import os
import sqlite3
import stat
import threading
from contextlib import closing, suppress
from datetime import datetime
from functools import cache
from pathlib import Path

from companion.errors import CompanionError
from companion.language import _
from companion.log.copies import BACKUPS, back_up
from companion.log.database import Database
from companion.log.rebuild import rebuild_if_outdated
from companion.log.schema import migrations
from companion.log.whereabouts import VIEW, WAITING, beside

BUSY_S = 5.0
"""How long a writer waits for another process that is just writing."""


def make_log(path: Path) -> None:
    """Put an empty log in place, whole at once: a file without a byte is one that was emptied."""
    fresh = path.with_name(f"{path.name}.{os.getpid()}.{threading.get_ident()}.new")
    os.close(os.open(fresh, os.O_CREAT | os.O_WRONLY, 0o600))
    try:
        connected(fresh).close()
        with suppress(FileExistsError):
            _put(fresh, path)
    finally:
        fresh.unlink(missing_ok=True)


def _put(fresh: Path, path: Path) -> None:
    """Give a file its name. Raises FileExistsError if another process was quicker."""
    try:
        path.hardlink_to(fresh)
    except FileExistsError:
        raise
    except OSError:
        # Sticks know no second name for a file.
        if path.exists():
            raise FileExistsError from None
        fresh.rename(path)


def keep_writable(path: Path) -> None:
    """Keep the log, and what SQLite has made beside it with the same rights, to this user, who may write.

    Where the log was to be read only for a while, SQLite would leave it so for good by what is beside it.
    Raises OSError if the files are another's.
    """
    if path.stat().st_mode & 0o077:
        path.chmod(0o600)
    if os.access(path, os.W_OK):
        for end in (WAITING, VIEW):
            with suppress(FileNotFoundError):
                if stat.S_IMODE(beside(path, end).stat().st_mode) != 0o600:
                    beside(path, end).chmod(0o600)


def connected(path: Path) -> Database:
    """Return a connection to the log, brought up to date; one of an older version is backed up before.

    Raises CompanionError as `open_log` does, and what SQLite says.
    """
    db = Database(sqlite3.connect(path, timeout=BUSY_S), execute_plugins=False)
    try:
        db.conn.execute("PRAGMA synchronous = FULL")
        applied = refuse_a_stranger(db, path)
        if applied != _known():
            if applied and path.parent.name != BACKUPS:
                back_up(path, "upgrade", datetime.now().astimezone())
            db.enable_wal()
            migrations.apply(db)
        rebuild_if_outdated(db)
    except BaseException:
        db.close()
        raise
    return db


_APPLIED = f"SELECT name FROM [{migrations.migrations_table}] WHERE migration_set = :name"  # noqa: S608 - its name


@cache
def _known() -> frozenset[str]:
    with closing(Database(memory=True, execute_plugins=False)) as empty:
        return frozenset(migration.name for migration in migrations.pending(empty))


def refuse_a_stranger(db: Database, path: Path) -> frozenset[str]:
    """Return the steps by which the log's tables were made, none for a new file.

    Raises CompanionError if the file is no session log, or one of a newer version.
    """
    tables, applied = db.table_names(), frozenset[str]()
    if migrations.migrations_table in tables:
        # As `migrations.applied` does, which asks three times whether there is such a table.
        rows = db.query(_APPLIED, {"name": migrations.name})
        applied = frozenset(str(row["name"]) for row in rows)
    if applied - _known():
        raise CompanionError(
            _("The session log {path} was written by a newer version of the companion.", path=path),
            safe=_("Nothing in it was changed."),
            remedy=_("Install the newest version, or name another folder with --home."),
        )
    if not applied and tables:
        raise CompanionError(
            _("The file {path} is a database, but not a session log.", path=path),
            safe=_("Nothing in it was changed."),
            remedy=_("Move it away, or name another folder with --home."),
        )
    return applied
