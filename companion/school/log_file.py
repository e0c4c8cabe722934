"""A room's session log, read where it lies: sums over whole classes only, and nothing else can be read."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from companion.errors import CompanionError
from companion.language import _
from companion.lesson.trends import LessonHeld, RoutineCount
from companion.log.plain_errors import SQLITE_ERRORS, words_of
from companion.log.weeks import TaughtAgain
from companion.paths import sqlite_uri
from companion.school.room import PhaseHeld, RoomLessons, SharedLesson

OPENED = {
    "summary": {
        "session",
        "class_group",
        "opened_at",
        "plan",
        "room",
        "praise",
        "reminder",
        "recognition",
        "closed",
        "settled",
        "by_guest",
    },
    "tally": {"session", "phase", "routine", "praise", "reminder"},
    "phase_held": {"session", "phase", "place", "praise", "reminder", "named"},
    "taught_again": {"session", "phase", "routine"},
}
"""The tables and columns that are read. SQLite itself refuses all others on this connection."""
MAGIC = b"SQLite format 3\x00"
_LESSONS = """
    SELECT session, class_group, plan, substr(opened_at, 1, 10), settled, praise, reminder,
        coalesce(recognition, '')
    FROM summary WHERE (closed OR settled) AND NOT by_guest ORDER BY julianday(opened_at), session
"""
_TAUGHT = """
    SELECT session, class_group, substr(opened_at, 1, 10), phase, routine
    FROM summary JOIN taught_again USING (session) ORDER BY julianday(opened_at), session, phase, routine
"""


def is_database(path: Path) -> bool:
    """Whether the file at `path` is SQLite's, or begins like one.

    It is SQLite that looks first: whoever else opens and closes the log that this very process writes gives
    up, by POSIX, the locks that keep other programs out of it.
    """
    try:
        with closing(_connected(path)):
            return bool(path.stat().st_size)
    except SQLITE_ERRORS as error:
        if getattr(error, "sqlite_errorcode", None) != sqlite3.SQLITE_NOTADB:
            return True
    with path.open("rb") as opened:
        return opened.read(len(MAGIC)) == MAGIC


def read_log(path: Path) -> RoomLessons:
    """Return the lessons of the session log at `path`; what a guest taught is left out.

    Raises CompanionError if it is none, or of another version.
    """
    try:
        with opened(path) as db:
            return RoomLessons(
                [SharedLesson(LessonHeld(*row[:4]), bool(row[4]), *row[5:]) for row in db.execute(_LESSONS)],
                [
                    PhaseHeld(*row)
                    for row in db.execute(
                        "SELECT session, phase, place, praise, reminder, named FROM phase_held"
                        " ORDER BY session, place"
                    )
                ],
                [
                    RoutineCount(*row)
                    for row in db.execute("SELECT session, phase, routine, praise, reminder FROM tally")
                ],
                [TaughtAgain(*row) for row in db.execute(_TAUGHT)],
            )
    except SQLITE_ERRORS as error:
        raise CompanionError(
            _("{path} can't be read as a session log ({error}).", path=path, error=words_of(error)),
            safe=_("Nothing in it was changed."),
            remedy=_("Start the companion in its room once, so that it is brought up to date."),
        ) from error


def room_in(path: Path) -> str:
    """Return the name of the room of the newest lesson, or "" where there is none."""
    with opened(path) as db:
        row = db.execute("SELECT room FROM summary ORDER BY opened_at DESC LIMIT 1").fetchone()
    return row[0] if row else ""


@contextmanager
def opened(path: Path) -> Iterator[sqlite3.Connection]:
    """Open the log so that SQLite reads `OPENED` and refuses all else."""
    with closing(_connected(path)) as db:
        db.set_authorizer(_allowed)
        yield db


def _connected(path: Path) -> sqlite3.Connection:
    """Return a connection that only reads, also from a disk that can't be written."""
    address = sqlite_uri(path.resolve(), "ro")
    db = sqlite3.connect(address, uri=True)
    try:
        db.execute("SELECT 1 FROM sqlite_schema LIMIT 1")
    except sqlite3.OperationalError:
        db.close()
        return sqlite3.connect(f"{address}&immutable=1", uri=True)
    return db


def _allowed(action: int, table: str | None, column: str | None, *_: str | None) -> int:
    if action in (sqlite3.SQLITE_SELECT, sqlite3.SQLITE_FUNCTION):
        return sqlite3.SQLITE_OK
    # SQLite asks for the table with no column where only its rows are counted.
    if action == sqlite3.SQLITE_READ and table in OPENED and (not column or column in OPENED[table]):
        return sqlite3.SQLITE_OK
    return sqlite3.SQLITE_DENY
