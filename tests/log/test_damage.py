"""What is not as it was written is found, whatever did it to the file."""

import sqlite3
import threading
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from companion.errors import CompanionError
from companion.lesson import event as ev
from companion.log.copies import copy_log, damage_words
from companion.log.damage import Damage, damages, damages_aside
from companion.log.exchange import merge
from companion.log.forget import SESSIONS, take_out, whole_sessions
from companion.log.plain_errors import LogError
from companion.log.schema import migrations
from companion.log.store import open_log
from tests.lesson.builders import AT, OPENED, began, praise


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Return a log with two sessions of four events each."""
    path = tmp_path / "home" / "sessions.db"
    with open_log(path) as log:
        for _ in range(2):
            session = log.open_session(OPENED, AT)
            log.append_all(session.id, (began("arrival", 0), praise(1_000)), at=AT, offset_ms=1_000)
            log.append(session.id, ev.CarryOverWritten("Quiet line."), at=AT, offset_ms=2_000)
    return path


def meddle(path: Path, *statements: str) -> None:
    """Do to the file what another program could."""
    with closing(sqlite3.connect(path)) as db:
        for trigger in ("event_no_update", "event_no_delete"):
            db.execute(f"DROP TRIGGER IF EXISTS {trigger}")
        for statement in statements:
            db.execute(statement)
        db.commit()


def test_a_sound_log_has_no_damage(path: Path, tmp_path: Path) -> None:
    """Appended to, merged, backed up, purged: what remains still verifies."""
    assert damages(path) == []
    assert damages(tmp_path / "nowhere.db") == []
    with open_log(path) as log, open_log(tmp_path / "other" / "sessions.db") as other:
        assert merge(other, path) == (2, 0)
        copy_log(log.path, tmp_path / "copy.db")
        first = log.summaries()[0].session
        take_out(log, whole_sessions([first]), SESSIONS, AT)
        log.append(log.summaries()[0].session, praise(3_000), at=AT, offset_ms=3_000)
    for file in (path, tmp_path / "other" / "sessions.db", tmp_path / "copy.db"):
        assert damages(file) == []


NEWEST = "(SELECT max(session) FROM event)"


@pytest.mark.parametrize(
    ("statement", "words"),
    [
        (f"DELETE FROM event WHERE session = {NEWEST} AND seq = 2", "Event 2 is missing."),
        (f"DELETE FROM event WHERE session = {NEWEST} AND seq = 4", "Event 4 is missing."),
        (f"DELETE FROM event WHERE session = {NEWEST} AND seq < 4", "Events 1, 2, 3 are missing."),
        (f"DELETE FROM event WHERE session = {NEWEST}", "All of its events are gone."),
        (f"UPDATE event SET body = 'x' WHERE session = {NEWEST} AND seq = 3", "Event 3 is unreadable."),
        (f"UPDATE event SET at = 'noon' WHERE session = {NEWEST} AND seq = 3", "Event 3 is unreadable."),
        (
            f"""UPDATE event SET body = '{{"text": "Loud line."}}' WHERE session = {NEWEST} AND seq = 4""",
            "Something in it was changed after it was recorded.",
        ),
        (f"UPDATE event SET offset_ms = 7 WHERE session = {NEWEST} AND seq = 2", "changed"),
        (f"DELETE FROM seal WHERE session = {NEWEST}", "changed"),
    ],
)
def test_what_was_done_to_one_session_is_told_of_that_session(path: Path, statement: str, words: str) -> None:
    """Gaps in the numbers, unreadable bodies, removed and changed events; the other session is sound."""
    with open_log(path) as log:
        newest = max(summary.session for summary in log.summaries())
    meddle(path, statement)
    (found,) = damages(path)
    assert found.session == newest
    assert words in found.words
    # Where few sessions are read, it is found in those that were written last, or by its numbers.
    with open_log(path) as log:
        log.open_session(OPENED, AT)
    assert damages(path, newest=2) == [found]
    assert damages(path, newest=1) == ([found] if statement.startswith("DELETE") else [])


@pytest.mark.parametrize(("last", "told"), [(9, "9 are missing."), (11, "9 and 2 more are missing.")])
def test_many_missing_events_are_counted(path: Path, last: int, told: str) -> None:
    """The first are named, the others are not; as many as are named are not counted."""
    with open_log(path) as log:
        session = log.open_session(OPENED, AT).id
        log.append_all(session, [praise(number) for number in range(last)], at=AT, offset_ms=1_000)
    meddle(path, f"DELETE FROM event WHERE session = '{session}' AND seq BETWEEN 2 AND {last}")
    (found,) = damages(path)
    assert found.words == f"Events 2, 3, 4, 5, 6, 7, 8, {told}"


def test_a_process_that_gives_way_finds_the_same(path: Path) -> None:
    """And is ended when nobody waits for it any more."""
    meddle(path, f"UPDATE event SET body = 'x' WHERE session = {NEWEST} AND seq = 3")
    given_up = threading.Event()
    assert damages_aside(path, given_up) == damages(path) != []
    given_up.set()
    with pytest.raises(CompanionError, match="could not be looked through"):
        damages_aside(path, given_up)


def test_an_index_that_lacks_a_row_is_damage(path: Path) -> None:
    """What is found by it would be missed, or called malformed in mid-lesson."""
    index = "SELECT * FROM sqlite_master WHERE name = 'summary_by_time'"
    with closing(sqlite3.connect(path)) as db:
        kept = db.execute(index).fetchone()
        db.execute("PRAGMA writable_schema = ON")
        db.execute("DELETE FROM sqlite_master WHERE name = 'summary_by_time'")
        db.commit()
    with closing(sqlite3.connect(path)) as db:
        db.execute("UPDATE summary SET opened_at = '2020-01-01T08:00:00+00:00'")
        db.execute("PRAGMA writable_schema = ON")
        db.execute("INSERT INTO sqlite_master VALUES (?, ?, ?, ?, ?)", kept)
        db.commit()
    (found,) = damages(path)
    assert "summary_by_time" in found.words


def test_a_database_without_events_is_told_so(tmp_path: Path) -> None:
    """Whatever else is in it."""
    with closing(sqlite3.connect(tmp_path / "other.db")) as db:
        db.execute("CREATE TABLE beds (name)")
    assert damages(tmp_path / "other.db") == [Damage("The file holds no events.")]


def _cut(path: Path) -> None:
    path.write_bytes(path.read_bytes()[: 3 * 4096])


def _scratch(path: Path) -> None:
    whole = bytearray(path.read_bytes())
    whole[2 * 4096 : 3 * 4096] = b"\xff" * 4096
    path.write_bytes(whole)


@pytest.mark.parametrize("harm", [lambda path: path.write_bytes(b""), _cut, _scratch])
def test_a_file_that_is_damaged_as_a_whole_is_told_so(path: Path, harm: Callable[[Path], None]) -> None:
    """Emptied, cut short, overwritten."""
    harm(path)
    assert [found.session for found in damages(path)] == [""]


def test_a_full_disk_says_nothing_of_the_log(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is told as what it is, and nothing is taken to be damaged."""

    def refuse(*_: object, **__: object) -> None:
        error = sqlite3.OperationalError("disk I/O error")
        error.sqlite_errorcode = sqlite3.SQLITE_IOERR_SHMSIZE
        raise error

    monkeypatch.setattr(sqlite3, "connect", refuse)
    with pytest.raises(LogError, match="disk I/O error"):
        damages(path)


def test_an_old_log_gets_its_seals(path: Path) -> None:
    """What was recorded before there were seals is sealed as it is found, and watched from then on."""
    meddle(path, "DROP TABLE seal", "DELETE FROM _sqlite_migrations WHERE name = 'seals'")
    assert damages(path) == []
    with open_log(path) as log:
        assert not migrations.pending(log._db)
    meddle(path, "UPDATE event SET offset_ms = 7 WHERE seq = 2")
    assert len(damages(path)) == 2


def test_what_is_wrong_is_told_in_a_sentence(path: Path) -> None:
    """Three sessions by name, and how many more; a file that is damaged as a whole by itself."""
    found = [Damage(f"Event {number} is missing.", f"s{number}") for number in range(5)]
    assert damage_words(path, found[:3]).endswith(
        "(s0: Event 0 is missing.; s1: Event 1 is missing.; s2: Event 2 is missing.)."
    )
    assert "s2: Event 2 is missing. and 2 more)" in damage_words(path, found)
    assert "s2: Event 2 is missing. and 1 more)" in damage_words(path, found[:4])
    assert damage_words(path, [Damage("The file was emptied."), found[0]]).endswith(
        "is damaged. The file was emptied."
    )
