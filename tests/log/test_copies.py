"""Backups by themselves, and what can be saved of a damaged log."""

import sqlite3
from contextlib import closing
from datetime import timedelta
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.errors import CompanionError
from companion.lesson import event as ev
from companion.lesson.opening import UNPLANNED
from companion.log import copies
from companion.log.copies import back_up, back_up_day, backups, copy_log, newest_good, set_aside
from companion.log.damage import damages
from companion.log.forget import SESSIONS, take_out, whole_sessions
from companion.log.salvage import restore, salvage
from companion.log.store import SessionLog, open_log
from tests.lesson.builders import AT, OPENED, began, praise
from tests.log.test_damage import meddle, path
from tests.systems import is_private

__all__ = ["path"]

LONG = "조용히 줄을 서요. " * 700
"""Longer than a page of the file."""


def _go_on(log: SessionLog, count: int = 30, words: str = "Quiet line.") -> str:
    session = log.open_session(OPENED, AT).id
    log.append_all(session, (began("arrival", 0), *[praise(1_000)] * count), at=AT, offset_ms=1_000)
    log.append(session, ev.CarryOverWritten(words), at=AT, offset_ms=2_000)
    return session


@cache
def _big_log() -> tuple[bytes, dict[str, str]]:
    """Return the bytes of a log, and the body of each event in it by its id."""
    with TemporaryDirectory() as folder:
        log_path = Path(folder) / "home" / "sessions.db"
        with open_log(log_path) as log:
            for words in ("Quiet line.", LONG, "Tools back first.") * 2:
                _go_on(log, 60, words)
            with log.reading() as db:
                rows = {row["id"]: row["body"] for row in db.query("SELECT id, body FROM event")}
        return log_path.read_bytes(), rows


def test_a_backup_is_private_checked_and_one_of_a_few(path: Path) -> None:
    """The oldest go; one of a damaged log says so and takes no sound one's place."""
    made = [back_up(path, "day", AT + timedelta(days=day)) for day in range(copies.KEPT + 2)]
    assert backups(path) == sorted(made, reverse=True)[: copies.KEPT]
    assert all(is_private(one.path) for one in backups(path))
    # Its header asks for no file beside it: a copy on a stick can be read where nothing can be written.
    assert {one.path.read_bytes()[18:20] for one in made[-2:]} == {b"\x01\x01"}
    meddle(path, "DELETE FROM event WHERE seq = 2")
    damaged = back_up(path, "purge", AT + timedelta(days=99))
    assert damaged.damaged
    assert "damaged" in damaged.path.name
    assert len(backups(path)) == copies.KEPT + 1
    assert newest_good(path) == made[-1]
    made[-1].path.write_bytes(b"")
    assert newest_good(path) == made[-2]


def test_a_day_leaves_one_backup_if_anything_happened(tmp_path: Path) -> None:
    """The last of the day takes the place of those before it; one that was made for another reason stays."""
    path = tmp_path / "home" / "sessions.db"
    assert back_up_day(path, AT) is None
    with open_log(path) as log:
        assert back_up_day(path, AT) is None
        session = log.open_session(OPENED, AT).id
        first = back_up_day(path, AT)
        assert first is not None
        assert (first.reason, first.damaged, backups(path)) == ("day", False, [first])
        assert back_up_day(path, AT + timedelta(hours=1)) is None
        log.append(session, praise(1), at=AT, offset_ms=1)
        other = back_up(path, "upgrade", AT + timedelta(hours=2))
        log.append(session, praise(2), at=AT, offset_ms=2)
        last = back_up_day(path, AT + timedelta(hours=3))
        assert backups(path) == [last, other]
        log.append(session, praise(3), at=AT, offset_ms=3)
        next_day = back_up_day(path, AT + timedelta(days=1))
        assert backups(path) == [next_day, last, other]
        take_out(log, whole_sessions([session]), SESSIONS, AT)
        assert back_up_day(path, AT + timedelta(days=2)) is not None
    path.write_bytes(b"leeks")
    assert back_up_day(path, AT + timedelta(days=3)) is None


def test_a_log_is_backed_up_before_it_is_upgraded(path: Path) -> None:
    """The file of the older version is kept as it was."""
    meddle(path, "DROP TABLE seal", "DELETE FROM _sqlite_migrations WHERE name = 'seals'")
    open_log(path).close()
    (kept,) = backups(path)
    assert kept.reason == "upgrade"
    with closing(sqlite3.connect(kept.path)) as db:
        assert not db.execute("SELECT name FROM sqlite_master WHERE name = 'seal'").fetchall()
    open_log(path).close()
    assert len(backups(path)) == 1


def test_restoring_loses_nothing_that_can_be_read(path: Path) -> None:
    """The damaged log is set aside untouched; what it had more than the backup is taken over."""
    with open_log(path) as log:
        first = _go_on(log)
    kept = back_up(path, "day", AT)
    with open_log(path) as log:
        log.append(first, praise(3_000), at=AT, offset_ms=3_000)
        second = _go_on(log)
    meddle(path, f"DELETE FROM event WHERE session = '{first}' AND seq = 5")
    before = path.read_bytes()
    saved = restore(kept.path, path, AT)
    assert saved is not None
    assert (saved.new, saved.longer, saved.known, saved.differing) == (1, 1, 2, ())
    assert damages(path) == []
    with open_log(path) as log:
        assert log.session(first).praise == 31
        assert log.session(second).praise == 30
    (aside,) = copies.all_set_aside(path)
    assert aside.read_bytes() == before
    assert copies.waiting(path) == []


def test_a_lesson_goes_on_in_a_new_log_while_the_damaged_one_waits(path: Path) -> None:
    """Set aside with all that belongs to it; both are one log afterwards."""
    with open_log(path) as log:
        old = _go_on(log, words=LONG)
    path.write_bytes(path.read_bytes()[:4096] + b"\xff" * 4096 + path.read_bytes()[8192:])
    aside = set_aside(path, AT)
    assert copies.waiting(path) == [aside]
    with open_log(path) as log:
        new = _go_on(log, 3)
        saved = salvage(aside, log)
        assert saved.new >= 1
        assert log.session(new).praise == 3
        assert log.session(old).carry_over == LONG
    assert damages(path) == []


@settings(max_examples=25)
@given(st.integers(0, 200_000), st.integers(1, 30_000), st.booleans())
def test_what_is_readable_is_saved_wherever_the_damage_is(begin: int, length: int, cut: bool) -> None:
    """Overwritten or cut off anywhere: no error, what was saved is a sound log, nothing is invented."""
    whole, rows = _big_log()
    harmed = whole[:begin] if cut else whole[:begin] + b"\xa5" * length + whole[begin + length :]
    with TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "damaged.db").write_bytes(harmed)
        with open_log(folder / "sessions.db") as log:
            saved = salvage(folder / "damaged.db", log)
            with log.reading() as db:
                found = {row["id"]: row["body"] for row in db.query("SELECT id, body FROM event")}
        assert damages(folder / "sessions.db") == []
    assert sum(found.get(name) == body for name, body in rows.items()) == saved.events
    assert len(found) == saved.events + saved.lost
    pages = (length + 4095) // 4096 + 1
    assert cut or saved.events >= len(rows) - 60 * pages


def test_an_opening_that_was_lost_leaves_a_session_without_a_class(path: Path) -> None:
    """The marks are there with their phases; which class it was is asked of the teacher as for any other."""
    with open_log(path) as log:
        session = _go_on(log)
    meddle(path, f"DELETE FROM event WHERE session = '{session}' AND seq IN (1, 4)")
    with open_log(path.with_name("new") / "sessions.db") as log:
        saved = salvage(path, log)
        assert saved.lost == 2
        mended = log.session(session)
    assert mended.class_group == UNPLANNED
    assert mended.praise == 29
    assert mended.phases[0].name == "arrival"


def test_a_backup_that_can_not_be_made_changes_nothing(path: Path) -> None:
    """The folder of backups is a file: a plain sentence."""
    path.with_name(copies.BACKUPS).write_text("in the way")
    with pytest.raises(CompanionError):
        back_up(path, "day", AT)
    assert damages(path) == []
    with pytest.raises(CompanionError, match="already"):
        copy_log(path, path.with_name(copies.BACKUPS))


def test_a_copy_to_a_place_beneath_a_file_is_told(path: Path) -> None:
    """There is nothing there to be taken away again."""
    path.with_name("stick").write_text("in the way")
    with pytest.raises(CompanionError, match="can't be written"):
        copy_log(path, path.with_name("stick") / "copy.db")
    assert path.with_name("stick").read_text() == "in the way"


def test_a_backup_that_can_not_be_put_in_its_place_is_told(path: Path) -> None:
    """A plain sentence: the end of the companion, which makes it, is no crash."""
    (path.parent / copies.BACKUPS / f"{AT:{copies.STAMP}}-day.db").mkdir(parents=True)
    with pytest.raises(CompanionError, match="can't be written"):
        back_up(path, "day", AT)
    assert damages(path) == []


def test_a_copy_that_breaks_off_leaves_nothing(path: Path) -> None:
    """Neither of a log that can't be read, nor of a companion that was killed; then no copy is good."""
    made = back_up(path, "day", AT)
    (made.path.parent / "2026-09-13T080000.new").write_bytes(b"half")
    made.path.write_bytes(b"leeks")
    path.write_bytes(b"leeks " * 4096)
    with pytest.raises(CompanionError, match="can't be written"):
        back_up(path, "day", AT + timedelta(days=1))
    assert [one.name for one in made.path.parent.iterdir()] == [made.path.name]
    assert newest_good(path) is None


def test_nothing_that_was_set_aside_is_overwritten(path: Path) -> None:
    """Two in one second: the second log stays where it is."""
    aside = set_aside(path, AT)
    before = aside.read_bytes()
    path.write_bytes(b"leeks")
    with pytest.raises(CompanionError, match="it is there already"):
        set_aside(path, AT)
    assert (path.read_bytes(), aside.read_bytes()) == (b"leeks", before)
