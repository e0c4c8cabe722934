"""What SQLite and the disk say of the session log, in plain sentences."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from companion.errors import CompanionError
from companion.language import _, later

WAY_OUT = later(
    "Put a backup in its place: companion log restore, or save what is readable: companion log salvage."
)

SQLITE_ERRORS = (sqlite3.Error, UnicodeDecodeError)
"""What reading and writing raises. SQLite quotes a damaged schema, whose letters may be none: Python can't
tell that."""
_NO_TEXT = "Could not decode to UTF-8"
"""What Python says, without a code of SQLite's, of text that was none when it was read."""
_DAMAGED = {sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB}
_UNWRITABLE = {
    sqlite3.SQLITE_BUSY,
    sqlite3.SQLITE_CANTOPEN,
    sqlite3.SQLITE_FULL,
    sqlite3.SQLITE_IOERR,
    sqlite3.SQLITE_LOCKED,
    sqlite3.SQLITE_NOLFS,
    sqlite3.SQLITE_NOMEM,
    sqlite3.SQLITE_PERM,
    sqlite3.SQLITE_PROTOCOL,
    sqlite3.SQLITE_READONLY,
    sqlite3.SQLITE_TOOBIG,
}
SAID_OFTEN = (
    later("attempt to write a readonly database"),
    later("database disk image is malformed"),
    later("database is locked"),
    later("database or disk is full"),
    later("disk I/O error"),
    later("file is not a database"),
    later("unable to open database file"),
    later("Input/output error"),
    later("Is a directory"),
    later("No such file or directory"),
    later("No space left on device"),
    later("Not a directory"),
    later("Permission denied"),
    later("Read-only file system"),
)
"""What SQLite (https://sqlite.org/rescode.html) and the system say most often; all else stays in English."""


def words_of(error: Exception) -> str:
    """Return what the system or SQLite says, in the language that is spoken here."""
    if isinstance(error, UnicodeDecodeError):
        return _("database disk image is malformed")
    return _((error.strerror if isinstance(error, OSError) else None) or str(error))


class LogError(CompanionError):
    """The log can't be read or written just now; what was to be recorded was not."""


@contextmanager
def plain_errors(path: Path) -> Iterator[None]:
    """Turn what SQLite and the disk say into plain sentences."""
    try:
        yield
    except SQLITE_ERRORS as error:
        raise _plain_error(path, error) from error
    except OSError as error:
        raise LogError(
            _("The session log {path} can't be opened ({error}).", path=path, error=words_of(error)),
            safe=_("Nothing recorded was changed."),
            remedy=_("Free or unlock the disk, or name another folder with --home."),
        ) from error


def is_of_the_disk(error: Exception) -> bool:
    """Whether the disk or another program does not let us just now, which says nothing of the file."""
    return _code(error) in _UNWRITABLE


def _code(error: Exception) -> int:
    if isinstance(error, UnicodeDecodeError) or str(error).startswith(_NO_TEXT):
        return sqlite3.SQLITE_CORRUPT
    # The lowest byte is the primary code (https://sqlite.org/rescode.html); Python's own errors have none.
    return int(getattr(error, "sqlite_errorcode", sqlite3.SQLITE_MISUSE)) & 0xFF


def _plain_error(path: Path, error: Exception) -> LogError:
    """Return what `error` means: a damaged file, a disk that does not let us, or a fault of our own.

    Only SQLite itself knows that a file is damaged: a fault of ours must cost nobody a good log.
    """
    said = words_of(error)
    if _code(error) in _DAMAGED:
        return LogError(
            _(
                "The file {path} is not a session log, or it is damaged ({error}).",
                path=path,
                error=said,
            ),
            safe=_("Nothing in it was changed."),
            remedy=_(
                "Put a backup in its place: companion log restore, or save what is readable: companion log "
                "salvage, if it is one."
            ),
        )
    if is_of_the_disk(error):
        return LogError(
            _("The session log {path} can't be written ({error}).", path=path, error=said),
            safe=_("Everything recorded before is safe."),
            remedy=_("Free or unlock the disk, end other programs that use the file, and try again."),
        )
    return LogError(
        _(
            "The companion made a mistake with the session log {path} ({error}).",
            path=path,
            error=said,
        ),
        safe=_("The file is not damaged, and everything recorded before is in it."),
        remedy=_("Try again. If it comes back, end the companion and start it again."),
    )
