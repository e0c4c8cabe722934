"""What is saved of a damaged log."""

import sqlite3
from contextlib import closing
from pathlib import Path

from companion.lesson import event as ev
from companion.lesson.opening import UNPLANNED
from companion.log.copies import copy_log
from companion.log.salvage import restore, salvage
from companion.log.store import open_log
from tests.lesson.builders import AT, OPENED, began, praise


def filled(path: Path) -> str:
    """Write a lesson of four events."""
    with open_log(path) as log:
        session = log.open_session(OPENED, AT).id
        for body in (began("arrival", 0), praise(1_000), praise(2_000)):
            log.append(session, body, at=AT, offset_ms=500)
    return session


def lose(path: Path, *numbers: int) -> None:
    """Take events out of the file, as no program of ours does."""
    with closing(sqlite3.connect(path)) as db, db:
        db.execute("PRAGMA secure_delete = ON")
        db.execute("DROP TRIGGER event_no_delete")
        db.executemany("DELETE FROM event WHERE seq = ?", [(number,) for number in numbers])
    with closing(sqlite3.connect(path)) as db:
        db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        db.execute("VACUUM")


def test_a_lost_event_leaves_a_stand_in_and_no_gap(tmp_path: Path) -> None:
    """What can be read is there; the damaged file stays as it is."""
    damaged = tmp_path / "damaged.db"
    session = filled(damaged)
    lose(damaged, 3)
    before = damaged.read_bytes()
    with open_log(tmp_path / "new" / "sessions.db") as log:
        saved = salvage(damaged, log)
        assert (saved.events, saved.lost, saved.new) == (3, 1, 1)
        assert [type(event.body) for event in log.events(session)][2] is ev.EventLost
        assert log.session(session).praise == 1
    assert damaged.read_bytes() == before


def test_a_lost_opening_has_the_phases_that_are_known_of(tmp_path: Path) -> None:
    """Nobody knows whose lesson it was; its marks count."""
    damaged = tmp_path / "damaged.db"
    session = filled(damaged)
    lose(damaged, 1)
    with open_log(tmp_path / "new" / "sessions.db") as log:
        salvage(damaged, log)
        found = log.session(session)
        assert (found.class_group, found.praise) == (UNPLANNED, 2)
        assert [phase.name for phase in found.plan] == ["arrival"]


def test_where_the_first_events_are_lost_the_rest_is_a_session(tmp_path: Path) -> None:
    """Of a plan that nobody knows; what is lost after the opening stands beside what is nearest."""
    damaged = tmp_path / "damaged.db"
    session = filled(damaged)
    lose(damaged, 1, 2)
    with open_log(tmp_path / "new" / "sessions.db") as log:
        salvage(damaged, log)
        assert [phase.name for phase in log.session(session).plan] == ["lesson"]
        assert [event.offset_ms for event in log.events(session)] == [0, 500, 500, 500]


def test_a_session_that_went_on_differently_stays_as_the_log_has_it(tmp_path: Path) -> None:
    """It is told which; the others are taken."""
    damaged, path = tmp_path / "damaged.db", tmp_path / "new" / "sessions.db"
    session = filled(damaged)
    copy_log(damaged, path_made(path))
    other = filled(damaged)
    with open_log(damaged) as log:
        log.append(session, praise(3_000), at=AT, offset_ms=0)
    with open_log(path) as log:
        log.append(session, praise(4_000), at=AT, offset_ms=0)
        saved = salvage(damaged, log)
        assert (saved.new, saved.differing) == (1, (session,))
        assert [mark.at_ms for mark in log.session(session).marks][-1] == 4_000
        assert log.session(other).praise == 2


def path_made(path: Path) -> Path:
    """Return the path, whose folder is made."""
    path.parent.mkdir()
    return path


def test_a_file_of_other_pages_is_read_past_the_one_that_is_damaged(tmp_path: Path) -> None:
    """Its bare pages are not looked through; SQLite reads what is before and behind."""
    damaged = tmp_path / "damaged.db"
    with open_log(damaged) as log:
        session = log.open_session(OPENED, AT).id
        log.append_all(session, [praise(number) for number in range(40)], at=AT, offset_ms=0)
        middle = log.events(session)[20].id
    with closing(sqlite3.connect(damaged)) as db:
        for statement in ("journal_mode = DELETE", "page_size = 1024"):
            db.execute(f"PRAGMA {statement}")
        db.execute("VACUUM")
    whole = bytearray(damaged.read_bytes())
    # A page of the table itself (SQLite's file format: its first byte is 13), not of the index of its names.
    at = next(
        page
        for page in range(0, len(whole), 1024)
        if whole[page] == 13 and middle.encode() in whole[page : page + 1024]
    )
    whole[at : at + 1024] = b"\xff" * 1024
    damaged.write_bytes(whole)
    with open_log(tmp_path / "new" / "sessions.db") as log:
        saved = salvage(damaged, log)
        assert (saved.events + saved.lost, saved.new) == (41, 1)
        assert 0 < saved.lost < 10
        read = [type(event.body) is not ev.EventLost for event in log.events(session)]
    assert (read[0], read[20], read[-1]) == (True, False, True)


def test_a_backup_takes_the_logs_place_with_what_that_had_more(tmp_path: Path) -> None:
    """And the log that was there is set aside."""
    path, backup = tmp_path / "home" / "sessions.db", tmp_path / "backup.db"
    session = filled(path)
    copy_log(path, backup)
    with open_log(path) as log:
        log.append(session, praise(3_000), at=AT, offset_ms=0)
    saved = restore(backup, path, AT)
    assert saved is not None
    assert (saved.longer, saved.lost) == (1, 0)
    with open_log(path) as log:
        assert log.session(session).praise == 3
    assert list((path.parent / "set-aside").iterdir())
    (tmp_path / "empty").mkdir()
    assert restore(backup, tmp_path / "empty" / "sessions.db", AT) is None
