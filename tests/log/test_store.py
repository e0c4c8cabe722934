"""The session log: a real SQLite file."""

import os
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from ulid import ULID

from companion.errors import CompanionError
from companion.lesson import event as ev
from companion.lesson.fold import fold
from companion.lesson.mark import Source
from companion.log.codec import event_of, row_of
from companion.log.store import OvertakenError, SessionLog, go_on, open_log
from companion.log.whereabouts import LogMovedError
from tests.lesson.any_event import BODIES
from tests.lesson.builders import AT, OPENED, began, events, many, praise, reminder
from tests.systems import is_private, moves_open_files, needs_posix

NOW = datetime(2026, 9, 14, 16, 0, tzinfo=UTC)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Return where a log may be made."""
    return tmp_path / "home" / "sessions.db"


def _filled(log: SessionLog, *bodies: ev.Body) -> str:
    session = log.open_session(OPENED, NOW)
    for body in bodies:
        log.append(session.id, body, at=NOW, offset_ms=0)
    return session.id


def test_what_was_appended_is_there_after_reopening(path: Path) -> None:
    """The session is the fold of what the file holds."""
    with open_log(path) as log:
        session = _filled(log, began("arrival", 0), praise(1_000))
    with open_log(path) as log:
        assert log.session(session).praise == 1
        assert log.session(session) == fold(log.events(session))
        assert [event.seq for event in log.events(session)] == [1, 2, 3]
        assert log.events(session)[0].offset_ms == 0


@given(st.lists(BODIES, max_size=8))
def test_any_event_comes_back_from_its_row_as_it_was(bodies: list[ev.Body]) -> None:
    """Times, scripts, reasons and numbers survive the file format."""
    for event in events(*bodies):
        assert event_of(dict(row_of(event))) == event


def test_what_an_older_log_recorded_at_one_moment_is_one_step() -> None:
    """It says nothing of batches; the wall time tells what was recorded together."""
    rows = [dict(row_of(event)) | {"batch": ""} for event in events(praise(1), praise(2), praise(3))]
    told = [event_of(row) for row in rows]
    assert len({event.batch for event in told}) == 1
    rows[-1]["at"] = NOW.isoformat()
    assert event_of(rows[-1]).batch != told[0].batch


def test_what_is_recorded_together_has_one_batch(path: Path) -> None:
    """And nothing else has it, though it has the same wall time."""
    with open_log(path) as log:
        session = log.open_session(OPENED, AT).id
        log.append_all(session, (praise(1), praise(2)), at=AT, offset_ms=3)
        log.append(session, praise(4), at=AT, offset_ms=4)
        batches = [event.batch for event in log.events(session)]
    assert batches[1] == batches[2]
    assert len(set(batches)) == 3


def test_an_event_with_any_script_comes_back(path: Path) -> None:
    """Notes and class groups may be in Korean."""
    with open_log(path) as log:
        session = log.open_session(ev.SessionOpened("4-개암", OPENED.plan), NOW)
        log.append(session.id, ev.CarryOverWritten("줄을 조용히 서요"), at=NOW, offset_ms=0)
        assert log.find().carry_over == "줄을 조용히 서요"
        assert log.class_groups() == ["4-개암"]


@pytest.mark.parametrize("statement", ["UPDATE event SET body = '{}'", "DELETE FROM event"])
def test_the_table_of_events_refuses_to_change(path: Path, statement: str) -> None:
    """Even another program that opens the file can't edit what happened."""
    with open_log(path) as log:
        _filled(log, praise(1_000))
    with (
        closing(sqlite3.connect(path)) as stranger,
        stranger,
        pytest.raises(sqlite3.IntegrityError, match="append-only"),
    ):
        stranger.execute(statement)


def test_file_and_folder_are_private(path: Path) -> None:
    """0600 and 0700, also where they were open before."""
    path.parent.mkdir(mode=0o755)
    open_log(path).close()
    path.chmod(0o644)
    path.parent.chmod(0o755)
    with open_log(path) as log:
        _filled(log)
        for file in path.parent.iterdir():
            assert is_private(file), file
    assert is_private(path.parent)


def test_appending_to_a_settled_session_is_refused(path: Path) -> None:
    """It takes a reason to open it again; the refused mark leaves no trace."""
    with open_log(path) as log:
        session = _filled(log, began("arrival", 0), ev.SessionSettled())
        with pytest.raises(CompanionError, match="settled"):
            log.append(session, praise(1_000), at=NOW, offset_ms=0)
        assert len(log.events(session)) == 3
        log.append(session, ev.SessionReopened("a mark was missing"), at=NOW, offset_ms=0)
        assert log.append(session, praise(1_000), at=NOW, offset_ms=0).praise == 1


def test_two_writers_leave_no_gap_and_no_double_number(path: Path) -> None:
    """The page and the lesson may append in turn from different connections."""
    with open_log(path) as one, open_log(path) as other:
        session = _filled(one, began("arrival", 0))
        for log in (one, other, one, other):
            log.append(session, praise(1_000), at=NOW, offset_ms=0)
        assert [event.seq for event in other.events(session)] == [1, 2, 3, 4, 5, 6]


def test_summaries_and_tallies_follow_each_append(path: Path) -> None:
    """History reads them without folding."""
    with open_log(path) as log:
        first = _filled(log, began("arrival", 0), praise(1_000, routine="boots at the door"), reminder(2_000))
        second = log.open_session(OPENED, datetime(2026, 9, 21, tzinfo=UTC)).id
        log.append(second, ev.CarryOverWritten("Quiet line again."), at=NOW, offset_ms=0)
        assert [summary.session for summary in log.summaries()] == [second, first]
        assert log.summaries(most=1)[0].session == second
        assert {(tally.routine, tally.praise, tally.reminder) for tally in log.tallies("4-Hazel")} == {
            ("boots at the door", 1, 0),
            ("", 0, 1),
        }
        assert log.summaries("4-Hazel")[0].carry_over == "Quiet line again."


def test_lessons_that_are_not_settled_are_found_among_those_that_are(path: Path) -> None:
    """The newest first, of all class groups or of one; and the newest that is over, or settled."""
    with open_log(path) as log:
        assert (log.unsettled(), log.newest_over()) == ([], None)
        settled, closed, opened = (
            log.open_session(OPENED, datetime(2026, 9, day, tzinfo=UTC)).id for day in (21, 22, 23)
        )
        for session in (settled, closed):
            log.append(session, ev.SessionClosed(0, Source.KEY), at=NOW, offset_ms=0)
        log.append(settled, ev.SessionSettled(), at=NOW, offset_ms=0)
        assert [summary.session for summary in log.unsettled()] == [opened, closed]
        assert [summary.session for summary in log.unsettled("4-Hazel")] == [opened, closed]
        assert log.unsettled("2-Birch") == []
        over, last = log.newest_over(), log.newest_over(settled=True)
        assert over is not None
        assert last is not None
        assert (over.session, last.session) == (closed, settled)
        with log.reading() as db:
            plan = db.execute(
                "EXPLAIN QUERY PLAN SELECT * FROM summary WHERE NOT settled"
                " ORDER BY julianday(opened_at) DESC, session DESC"
            ).fetchall()
        assert [step[3] for step in plan] == ["SCAN summary USING INDEX summary_unsettled"]


def test_a_session_is_found_by_the_beginning_of_its_name(path: Path) -> None:
    """The newest one without a name; a plain sentence when there is none or more than one."""
    with open_log(path) as log:
        with pytest.raises(CompanionError, match="no session in the log yet"):
            log.find()
        session = _filled(log)
        assert log.find().id == log.find(session[:20].lower()).id == session
        _filled(log)
        with pytest.raises(CompanionError, match="More than one"):
            log.find("0")
        with pytest.raises(CompanionError, match="no session 'ZZZ'"):
            log.find("ZZZ")


@pytest.mark.parametrize(
    "content",
    [b"this is not a database, it is a shopping list\n" * 40, b"SQLite format 3\0" + b"\xff" * 4000],
)
def test_a_file_that_is_not_a_log_is_left_alone(path: Path, content: bytes) -> None:
    """A plain sentence, and the file as it was."""
    path.parent.mkdir()
    path.write_bytes(content)
    with pytest.raises(CompanionError, match=r"not a session log|damaged"):
        open_log(path)
    assert path.read_bytes() == content


def test_a_log_that_was_emptied_is_no_new_one(path: Path) -> None:
    """What is in its backups would be forgotten over it: a plain sentence, and the file as it was."""
    with open_log(path) as log:
        _filled(log)
    path.write_bytes(b"")
    with pytest.raises(CompanionError, match="was emptied"):
        open_log(path)
    assert path.read_bytes() == b""


def test_many_that_begin_at_once_find_one_log(path: Path) -> None:
    """Each opens a log that is whole; what each records is in it."""

    def begin(_: int) -> str:
        with open_log(path) as log:
            return _filled(log)

    with ThreadPoolExecutor(8) as pool:
        sessions = set(pool.map(begin, range(8)))
    with open_log(path) as log:
        assert {summary.session for summary in log.summaries()} == sessions
    assert [file.name for file in path.parent.iterdir()] == [path.name]


def test_a_strangers_database_is_left_alone(path: Path) -> None:
    """An SQLite file with other tables is not taken over."""
    path.parent.mkdir()
    with closing(sqlite3.connect(path)) as db, db:
        db.execute("CREATE TABLE recipe (name TEXT)")
        db.execute("CREATE TABLE event (name TEXT)")
    with pytest.raises(CompanionError, match="not a session log"):
        open_log(path)


def test_a_log_of_a_newer_version_is_left_alone(path: Path) -> None:
    """A migration that this program does not know, or an event's newer version."""
    with open_log(path) as log:
        session = _filled(log)
    with closing(sqlite3.connect(path)) as db, db:
        db.execute(
            "INSERT INTO event VALUES ('x', ?, 2, ?, 0, 'mark made', 99, '{}', '')", [session, AT.isoformat()]
        )
    with open_log(path) as log, pytest.raises(CompanionError, match="does not know"):
        log.session(session)
    with closing(sqlite3.connect(path)) as db, db:
        db.execute(
            "INSERT INTO _sqlite_migrations (migration_set, name, applied_at)"
            " VALUES ('session log', 'holograms', 'x')"
        )
    with pytest.raises(CompanionError, match="newer version"):
        open_log(path)


def test_a_full_disk_loses_nothing_that_was_recorded(path: Path) -> None:
    """SQLite is told to take no more pages; the error is plain and the older marks stay."""
    with open_log(path) as log:
        session = _filled(log, began("arrival", 0), praise(1_000))
        log._db.execute("PRAGMA max_page_count = 1")
        with pytest.raises(CompanionError, match="safe"):
            _filled(log, *many(praise(2_000), 100))
        assert log.session(session).praise >= 1
    with open_log(path) as log:
        assert log.session(session).praise >= 1


@needs_posix
def test_a_disk_that_is_read_only_is_told_in_plain_words(path: Path) -> None:
    """Nothing recorded is lost."""
    with open_log(path) as log:
        session = _filled(log, began("arrival", 0), praise(1_000))
    code = (
        "import sys, sqlite3\n"
        "from pathlib import Path\n"
        "from companion.errors import CompanionError\n"
        "from companion.log.store import open_log\n"
        "try:\n"
        "    open_log(Path(sys.argv[1]))\n"
        "except CompanionError as error:\n"
        "    print(error); sys.exit(error.exit_code)\n"
    )
    path.chmod(0o400)
    path.parent.chmod(0o500)
    try:
        command = [sys.executable, "-c", code, str(path)]
        if os.geteuid() == 0:
            # Root writes anywhere: only without its capabilities is a read-only folder read-only.
            command = ["setpriv", "--bounding-set=-all", "--inh-caps=-all", "--", *command]
        done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=60)
    finally:
        path.parent.chmod(0o700)
        path.chmod(0o600)
    assert done.returncode == 2, done.stderr
    assert "Traceback" not in done.stderr
    with open_log(path) as log:
        assert log.session(session).praise == 1


def test_a_mark_for_a_session_that_is_not_there_is_refused(path: Path) -> None:
    """A wrong name does not make a session."""
    with open_log(path) as log, pytest.raises(CompanionError, match="no session"):
        log.append("nowhere", began("arrival", 0, Source.KEY), at=NOW, offset_ms=0)


def test_what_is_appended_is_synced_in_full(path: Path, sqlite_built_with: Callable[[str], None]) -> None:
    """Whatever SQLite was built with, also by a log that is opened again (FULL is 2)."""
    sqlite_built_with("synchronous = OFF")
    for _ in range(2):
        with open_log(path) as log:
            _filled(log, praise(1))
            assert log._db.execute("PRAGMA journal_mode").fetchone() == ("wal",)
            assert log._db.execute("PRAGMA synchronous").fetchone() == (2,)


def test_who_writes_holds_the_right_to_write_from_the_first_read_on(path: Path) -> None:
    """Another program can't write between the reading of a number and its use."""
    with open_log(path) as log, closing(sqlite3.connect(path, timeout=0, isolation_level=None)) as other:
        with log.writing(), pytest.raises(sqlite3.OperationalError, match="locked"):
            other.execute("BEGIN IMMEDIATE")
        other.execute("BEGIN IMMEDIATE")
        other.execute("ROLLBACK")
    other.close()


def test_what_was_decided_on_another_session_is_not_written(path: Path) -> None:
    """Who keeps a session says on which number it was decided."""
    with open_log(path) as log:
        session = _filled(log)
        kept = log.telling(session)
        after = go_on(session, kept, (praise(1_000),), at=NOW, offset_ms=1)
        log.append(session, praise(5_000), at=NOW, offset_ms=5)
        with pytest.raises(OvertakenError):
            log.write(after, expected=1)
        assert log.newest(session) == 2
        assert log.newest("nowhere") == 0
        log.write(go_on(session, log.telling(session), (praise(9_000),), at=NOW, offset_ms=9), expected=2)
        assert (log.newest(session), log.session(session).praise) == (3, 2)


@moves_open_files
def test_a_log_that_is_gone_or_was_replaced_takes_nothing_until_it_is_opened_again(path: Path) -> None:
    """What is written into a file that nobody finds would be lost."""
    with open_log(path) as log:
        session = _filled(log)
        after = go_on(session, log.telling(session), (praise(1_000),), at=NOW, offset_ms=1)
        assert not log.moved
        (path.parent / "away").mkdir()
        for file in path.parent.glob("sessions.db*"):
            file.rename(path.parent / "away" / file.name)
        assert log.moved
        with pytest.raises(LogMovedError, match="is gone") as gone:
            log.reopen()
        assert gone.value.remedy.startswith("Put it back")
        open_log(path).close()
        with pytest.raises(LogMovedError, match="another's place"):
            log.write(after, expected=1)
        old = log._db
        log.reopen()
        with pytest.raises(sqlite3.ProgrammingError, match="closed"):
            old.execute("SELECT 1")
        assert not log.moved
        assert log.newest(session) == 0
        log.write(after, expected=0)
    with open_log(path) as log:
        assert log.session(session).praise == 1


def test_another_program_is_waited_for_as_long_as_is_said(path: Path) -> None:
    """In seconds."""
    with open_log(path) as log:
        log.wait_for_others(0.25)
        assert log._db.execute("PRAGMA busy_timeout").fetchone() == (250,)


def test_a_request_that_comes_again_is_recorded_once(path: Path) -> None:
    """Its answer was lost; another one is another step."""
    with open_log(path) as log:
        session, wish = _filled(log), str(ULID())
        for _ in range(2):
            assert log.append(session, praise(1), at=NOW, offset_ms=1, request=wish).praise == 1
        assert log.append(session, praise(1), at=NOW, offset_ms=1, request=str(ULID())).praise == 2


def test_sessions_are_asked_for_by_class_group_and_by_name(path: Path) -> None:
    """One that is not there has no summary, and another class's marks are not counted."""
    with open_log(path) as log:
        session = _filled(log, praise(1))
        other = log.open_session(replace(OPENED, class_group="2-Birch"), NOW).id
        summary = log.summary(session)
        assert summary is not None
        assert (summary.session, summary.praise, log.summary("nowhere")) == (session, 1, None)
        assert [one.session for one in log.summaries("2-Birch")] == [other]
        assert (len(log.tallies()), log.tallies("2-Birch")) == (1, [])
        assert log.class_groups() == ["2-Birch", "4-Hazel"]
        assert log.days() == {NOW.date(): 2}


def test_lessons_that_were_never_closed_are_told_the_last_written_first(path: Path) -> None:
    """Whichever was opened first."""
    with open_log(path) as log:
        first, second, closed = (log.open_session(OPENED, NOW).id for _ in range(3))
        log.append(closed, ev.SessionClosed(1, Source.KEY), at=NOW, offset_ms=1)
        log.append(first, praise(1), at=NOW, offset_ms=1)
        assert [one.session for one in log.left_open()] == [first, second]
