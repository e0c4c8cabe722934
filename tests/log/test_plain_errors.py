"""What goes wrong with the session log, told as what it is."""

import errno
import sqlite3
from pathlib import Path

import pytest
from ulid import ULID

from companion.errors import CompanionError
from companion.language import speaking
from companion.log.file import BUSY_S
from companion.log.plain_errors import LogError, plain_errors, words_of
from companion.log.store import open_log
from tests.lesson.builders import AT, OPENED, many, praise


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Return where a log may be made."""
    return tmp_path / "home" / "sessions.db"


def test_a_closed_connection_is_our_mistake_and_no_damage(path: Path) -> None:
    """Nobody puts a backup over a good log for it."""
    log = open_log(path)
    log.close()
    with pytest.raises(CompanionError, match="made a mistake") as told:
        log.summaries()
    assert "not damaged" in told.value.safe
    assert "backup" not in str(told.value)


def test_a_wish_that_was_recorded_in_another_session_is_our_mistake_and_no_damage(path: Path) -> None:
    """And nothing of it is recorded twice."""
    with open_log(path) as log:
        wish = str(ULID())
        first, second = log.open_session(OPENED, AT).id, log.open_session(OPENED, AT).id
        log.append(first, praise(1), at=AT, offset_ms=1, request=wish)
        with pytest.raises(CompanionError, match="made a mistake") as told:
            log.append(second, praise(1), at=AT, offset_ms=1, request=wish)
        assert "backup" not in str(told.value)
        assert (log.session(first).praise, log.session(second).praise) == (1, 0)


@pytest.mark.parametrize("sql", ["SELECT shoe_size FROM event", "UPDATE event SET seq = 9"])
def test_what_sqlite_refuses_to_us_is_our_mistake(path: Path, sql: str) -> None:
    """A wrong column, or a change of what is append-only."""
    with open_log(path) as log:
        log.open_session(OPENED, AT)
        with pytest.raises(CompanionError, match="made a mistake"), log.reading() as db:
            db.execute(sql)


def test_a_page_that_was_overwritten_is_damage(path: Path) -> None:
    """SQLite itself says so; the backup is the way out."""
    with open_log(path) as log:
        session = log.open_session(OPENED, AT).id
        for body in many(praise(1), 60):
            log.append(session, body, at=AT, offset_ms=1)
    with path.open("r+b") as file:
        page = 4096
        while file.seek(page) and file.read(1):
            file.seek(page)
            file.write(b"\xff" * 200)
            page += 4096
    with pytest.raises(CompanionError, match="damaged") as told, open_log(path) as log:
        log.session(session)
    assert "backup" in told.value.remedy


def test_letters_that_are_none_are_damage(path: Path) -> None:
    """In a name of the file's own tables, and in what was recorded; of neither SQLite has a code."""
    with open_log(path) as log:
        log.open_session(OPENED, AT)
    whole = path.read_bytes()
    path.write_bytes(whole.replace(b"summary", b"\x80ummary"))
    with pytest.raises(LogError, match="or it is damaged"), open_log(path) as log:
        log.summaries()
    path.write_bytes(whole.replace(b"4-Hazel", b"4-H\xffzel"))
    with open_log(path) as log, pytest.raises(LogError, match="or it is damaged"):
        log.summaries()


def test_a_log_that_another_program_holds_is_busy_and_not_damaged(path: Path) -> None:
    """The sentence says what to end; later it works again."""
    open_log(path).close()
    holder = sqlite3.connect(path, isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")
    with open_log(path) as log:
        log._db.execute(f"PRAGMA busy_timeout = {round(BUSY_S)}")
        with pytest.raises(CompanionError, match="can't be written") as told:
            log.open_session(OPENED, AT)
        assert "other programs" in told.value.remedy
        assert told.value.safe
        holder.execute("ROLLBACK")
        holder.close()
        assert log.open_session(OPENED, AT).praise == 0


def test_a_folder_that_can_not_be_opened_is_told_with_its_reason(tmp_path: Path) -> None:
    """Nothing that was recorded is said to be lost."""
    with (
        pytest.raises(CompanionError, match=r"can't be opened \(No space left on device\)") as told,
        plain_errors(tmp_path),
    ):
        raise OSError(28, "No space left on device")
    assert told.value.safe
    assert told.value.remedy


def test_an_extended_code_counts_as_its_primary_one(tmp_path: Path) -> None:
    """A damaged index is damage too."""
    error = sqlite3.DatabaseError("malformed index")
    error.sqlite_errorcode = sqlite3.SQLITE_CORRUPT_INDEX
    with pytest.raises(CompanionError, match="damaged"), plain_errors(tmp_path):
        raise error


def test_what_the_disk_says_is_said_in_the_language_of_the_pages() -> None:
    """What happens often, that is; what SQLite or the system say seldom stays as they say it."""
    with speaking("es"):
        assert words_of(sqlite3.OperationalError("database is locked")) == "la base de datos está bloqueada"
        assert words_of(OSError(errno.ENOSPC, "No space left on device")) == "no queda espacio en el disco"
        assert words_of(OSError("something else")) == "something else"
    assert words_of(sqlite3.OperationalError("database is locked")) == "database is locked"
