"""Events out of the bare pages of a file."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from companion.lesson import event as ev
from companion.log.carve import PAGE, carved
from companion.log.codec import event_of
from companion.log.store import open_log
from tests.lesson.builders import AT, OPENED, praise

LONG = ev.TeacherViewed("The beds were watered. " * 800)
"""Longer than a page, so that it goes on upon others."""


def filled(path: Path) -> str:
    """Write a lesson, and put all of it into the file itself."""
    with open_log(path) as log:
        session = log.open_session(OPENED, AT).id
        for number in range(60):
            log.append(session, praise(number), at=AT, offset_ms=number)
        log.append(session, LONG, at=AT, offset_ms=99)
    with closing(sqlite3.connect(path)) as db:
        db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    return session


def test_every_event_is_found_without_sqlite(tmp_path: Path) -> None:
    """Long ones too, as they were written."""
    path = tmp_path / "sessions.db"
    session = filled(path)
    with open_log(path) as log:
        wanted = log.events(session)
    found = {row["seq"]: event_of(row) for row in carved(path)}
    assert [found[event.seq] for event in wanted] == wanted


def test_what_waits_in_the_write_ahead_log_is_found_too(tmp_path: Path) -> None:
    """A crash leaves the newest events only there."""
    path, copy = tmp_path / "sessions.db", tmp_path / "copy.db"
    with open_log(path) as log:
        session = log.open_session(OPENED, AT).id
        log.append(session, praise(1_000), at=AT, offset_ms=1_000)
        log.append(session, LONG, at=AT, offset_ms=1_000)
        for name in ("", "-wal"):
            copy.with_name(copy.name + name).write_bytes(path.with_name(path.name + name).read_bytes())
    found = {row["seq"]: event_of(row) for row in carved(copy)}
    assert sorted(found) == [1, 2, 3]
    assert found[3].body == LONG


def test_a_file_cut_or_overwritten_gives_what_is_left(tmp_path: Path) -> None:
    """And no file at all gives nothing."""
    path = tmp_path / "sessions.db"
    filled(path)
    whole = path.read_bytes()
    path.write_bytes(b"\xff" * PAGE + whole[PAGE : -PAGE - 7])
    left = list(carved(path))
    assert 0 < len(left) < 62
    assert list(carved(tmp_path / "nowhere.db")) == []


def test_events_of_any_length_are_found_also_those_of_old_logs(tmp_path: Path) -> None:
    """Whether they fill a page to its last byte or go on upon another; old logs have no batches."""
    path = tmp_path / "old.db"
    bodies = ["x" * length for length in (*range(3_900, 4_060), *range(7_900, 8_250), 60_000)]
    with closing(sqlite3.connect(path)) as db:
        db.execute(f"PRAGMA page_size = {PAGE}")
        db.execute("CREATE TABLE event (id, session, seq, at, offset_ms, kind, version, body)")
        rows = [
            (f"e{seq}", "s", seq, "noon", 2**40, "mark made", 1, body)
            for seq, body in enumerate(bodies, start=1)
        ]
        db.executemany("INSERT INTO event VALUES (?, ?, ?, ?, ?, ?, ?, ?)", rows)
        db.commit()
    found = {row["seq"]: row for row in carved(path)}
    assert [found[seq]["body"] for seq in range(1, len(bodies) + 1)] == bodies
    assert {(row["batch"], row["offset_ms"]) for row in found.values()} == {("", 2**40)}


def test_events_are_found_whatever_numbers_and_further_columns_are_beside_them(tmp_path: Path) -> None:
    """A later version may keep more than we know of; numbers are as short as they can be, in SQLite's way."""
    path = tmp_path / "later.db"
    offsets = [0, 1, 2, 2**8, 2**16, 2**24, 2**32, 2**48, -3]
    with closing(sqlite3.connect(path)) as db:
        db.execute(f"PRAGMA page_size = {PAGE}")
        db.execute(
            "CREATE TABLE event"
            " (id, session, seq, at, offset_ms, kind, version, body, batch, weight,"
            " picture, note, empty, last)"
        )
        db.executemany(
            "INSERT INTO event (rowid, id, session, seq, at, offset_ms, kind, version, body, batch, weight,"
            " picture, note, empty, last)"
            " VALUES (?, 'e', 's', ?, 'noon', ?, 'mark made', 1, '{}', 'b', 0.5, x'00ff', 'ü은ü', x'', 'ü')",
            [(seq if seq % 2 else -seq, seq, offset) for seq, offset in enumerate(offsets, start=1)],
        )
        db.commit()
    found = sorted(carved(path), key=lambda row: int(row["seq"]))
    assert [(row["seq"], row["offset_ms"]) for row in found] == [*enumerate(offsets, start=1)]
    assert {row["batch"] for row in found} == {"b"}


@pytest.mark.parametrize(("seq", "session"), [("'two'", "'s'"), ("2", "7")])
def test_what_only_looks_like_an_event_is_none(tmp_path: Path, seq: str, session: str) -> None:
    """Words where a number stands in one, or a number for words."""
    path = tmp_path / "other.db"
    with closing(sqlite3.connect(path)) as db:
        db.execute(f"PRAGMA page_size = {PAGE}")
        db.execute("CREATE TABLE other (id, session, seq, at, offset_ms, kind, version, body)")
        db.execute(f"INSERT INTO other VALUES ('e', {session}, {seq}, 'noon', 1, 'mark made', 1, '{{}}')")
        db.execute("INSERT INTO other VALUES ('e', 's', 3, 'noon', 1, 'mark made', 1, '{}')")
        db.commit()
    assert [row["seq"] for row in carved(path)] == [3]
