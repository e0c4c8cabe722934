"""Rooms share weeks as files; the school gathers them, whatever comes late, twice or broken."""

import shutil
import sqlite3
import subprocess
import sys
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from companion.errors import CompanionError
from companion.lesson import aftercare
from companion.lesson import event as ev
from companion.lesson.mark import Kind, NoteKind, Source
from companion.log.hand_out import hand_out
from companion.log.shapes import NOTES, SHAPES
from companion.log.store import open_log
from companion.paths import Home
from companion.school import log_file
from companion.school.ask import SchoolLook, ask, sum_up
from companion.school.engine import engine
from companion.school.gather import FolderContents, gather, look_through
from companion.school.layout import COLUMNS_OF_1
from companion.school.share import Shared, share
from companion.school.store import Store
from companion.school.week_file import SUM_LENGTH, checksum, is_whole
from tests.lesson.builders import PLAN, began, praise, reminder
from tests.systems import makes_links, needs_posix

MONDAY = datetime(2026, 9, 7, 9, 10, tzinfo=UTC)
TODAY = date(2026, 11, 28)
TREES = ("Hazel", "Oak", "Elder")
HELD = 7
OTHER_PROGRAM = f"""
import fcntl, sys
with open(sys.argv[1], "r+b") as log:
    try:
        fcntl.lockf(log, fcntl.LOCK_EX | fcntl.LOCK_NB, 510, 0x40000002)
    except OSError:
        sys.exit({HELD})
"""
"""Tries to lock the bytes that SQLite locks as long as it has a log in WAL mode open."""
SECRET = "fell asleep at the sink"


def hold(home: Home, week: int, tree: str, *, lesson: int = 0) -> None:
    """Hold a lesson of a class group of grade 4, with a private note in it."""
    at = MONDAY + timedelta(weeks=week, hours=lesson)
    with open_log(home.log) as log:
        session = log.open_session(ev.SessionOpened(f"4-{tree}", PLAN, room="Garden room"), at).id
        bodies = (
            began("arrival", 0),
            praise(1_000, routine="boots at the door"),
            praise(2_000),
            reminder(3_000),
            ev.NoteOpened(NoteKind.OTHER, 4_000, Source.PAGE),
            ev.SessionClosed(5_000, Source.KEY),
            ev.NoteCompleted("n6", "Q.Z.", NoteKind.OTHER, SECRET),
            ev.SessionSettled(),
        )
        log.append_all(session, bodies, at=at, offset_ms=5_000)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return three rooms with two weeks of lessons each, in folders of their own."""
    folder = tmp_path_factory.mktemp("rooms")
    for room in ("garden", "music", "science"):
        home = Home(folder / room).create()
        for week in (0, 1):
            for tree in TREES:
                hold(home, week, tree)
    return folder


@pytest.fixture
def rooms(made: Path, tmp_path: Path) -> list[Home]:
    """Return the rooms, to be changed by a test."""
    shutil.copytree(made, tmp_path / "rooms")
    return [Home(folder) for folder in sorted((tmp_path / "rooms").iterdir())]


@pytest.fixture
def drive(tmp_path: Path) -> Path:
    """Return the school's empty folder."""
    (tmp_path / "drive").mkdir()
    return tmp_path / "drive"


def put(home: Home, drive: Path, today: date = TODAY) -> Shared:
    """Share the weeks of a room."""
    return share(home, drive, "Alder Lane School", today)


def read(drive: Path, store: Path, today: date = TODAY) -> tuple[SchoolLook, tuple[str, ...]]:
    """Gather and ask; return the answers and what was not read."""
    gathered = gather(drive, Store(store), today)
    sum_up(Store(store))
    look = ask(Store(store))
    assert look == ask(Store(store), date.min, date.max), "what is kept is what is asked"
    return look, gathered.problems


def test_all_rooms_together_are_summed(rooms: list[Home], drive: Path, tmp_path: Path) -> None:
    """One file a room a week; what was told stays if it is gathered again."""
    assert [(len(put(home, drive).files), put(home, drive).lessons) for home in rooms] == [(2, 0)] * 3
    look, problems = read(drive, tmp_path / "store")
    assert (look.lessons, look.praise, look.reminder, problems) == (18, 36, 18, ())
    assert [one.name for one in look.spans] == ["2026-09-07", "2026-09-14"]
    assert read(drive, tmp_path / "store")[0] == look
    assert gather(drive, Store(tmp_path / "store"), TODAY).lessons == 0


def test_doubled_and_broken_files_are_harmless(rooms: list[Home], drive: Path, tmp_path: Path) -> None:
    """A copy under another name counts nothing twice; a torn file is told, and taken when it is whole."""
    for home in rooms:
        put(home, drive)
    look, _ = read(drive, tmp_path / "store")
    file = next(drive.rglob("*.parquet"))
    shutil.copy(file, file.with_name(f"{file.stem} (1).parquet"))
    shutil.copytree(file.parent, drive / "copy of a room")
    whole = file.read_bytes()
    file.write_bytes(whole[: len(whole) // 2])
    (drive / f"2026-09-07.{'0' * 32}.parquet").write_bytes(b"PAR1")
    (drive / "holiday.jpg").write_bytes(b"a picture")
    again, problems = read(drive, tmp_path / "other")
    assert again == look, "the copy stands in for the torn one"
    assert len(problems) == 1
    assert f"{'0' * 32}.parquet is not whole" in problems[0]
    assert not is_whole(file)


def test_a_file_of_another_shape_is_told_and_costs_nothing(
    rooms: list[Home], drive: Path, tmp_path: Path
) -> None:
    """Its name is right, and its checksum; its columns are not."""
    import hashlib  # noqa: PLC0415 - only here

    for home in rooms:
        put(home, drive)
    with engine(folders=[tmp_path]) as db:
        db.execute(f"COPY (SELECT 1 AS one) TO '{tmp_path}/odd' (FORMAT parquet)")
    digest = hashlib.sha256((tmp_path / "odd").read_bytes()).hexdigest()[:32]
    shutil.copy(tmp_path / "odd", drive / f"2026-09-07.{digest}.parquet")
    look, problems = read(drive, tmp_path / "store")
    assert look.lessons == 18
    assert len(problems) == 1
    assert "was not read" in problems[0]


def test_late_lessons_are_told_with_the_week_in_which_they_come(
    rooms: list[Home], drive: Path, tmp_path: Path
) -> None:
    """What was told of closed weeks stays as it was told, so no lesson is had by waiting for it."""
    for home in rooms:
        put(home, drive)
    before, _ = read(drive, tmp_path / "store", date(2026, 10, 20))
    hold(rooms[0], 0, "Hazel", lesson=3)
    for home in rooms:
        for tree in TREES:
            hold(home, 6, tree)
        put(home, drive)
    after, _ = read(drive, tmp_path / "store")
    assert [one for one in after.spans if one.name <= "2026-09-14"] == list(before.spans)
    assert [(one.name, one.praise) for one in after.spans[2:]] == [("2026-10-19", 18)]
    assert after.lessons == 27, "the late one is alone in its week, and is not told"


def reopen(home: Home, *, praise: int = 1) -> None:
    """Open the count of the room's first lesson again, add praise, and settle it."""
    with open_log(home.log) as log:
        first = log.summaries()[-1].session
        added = [ev.MarkAdded(Kind.PRAISE, "arrival")] * praise
        bodies: list[ev.Body] = [ev.SessionReopened("miscounted"), *added, ev.SessionSettled()]
        log.append_all(first, bodies, at=MONDAY + timedelta(days=1), offset_ms=6_000)


def test_a_count_that_is_opened_again_is_corrected_by_a_later_file(
    rooms: list[Home], drive: Path, tmp_path: Path
) -> None:
    """The newest counts, in whatever order files come; a lesson that did not change is not shared again."""
    for home in rooms:
        put(home, drive)
    before, _ = read(drive, tmp_path / "store", date(2026, 9, 21))
    assert before.lessons == 0, "the weeks wait"
    for added in (1, 2):
        reopen(rooms[0], praise=added)
        again = put(rooms[0], drive)
        assert (len(again.files), again.lessons, again.corrected) == (1, 0, 1)
    assert put(rooms[0], drive).files == ()
    gathered = gather(drive, Store(tmp_path / "store"), TODAY)
    assert (gathered.lessons, gathered.corrected) == (0, 1)
    for store in ("store", "another, which sees the corrections first"):
        look, problems = read(drive, tmp_path / store)
        assert (look.lessons, look.praise, look.reminder, problems) == (18, 39, 18, ())
        assert [(one.name, one.praise) for one in look.spans] == [("2026-09-07", 21), ("2026-09-14", 18)]
        assert [(one.phase, one.judged.count, one.judged.total) for one in look.phases] == [
            ("arrival", 18, 18)
        ]


def test_a_correction_of_what_was_told_is_told_with_a_later_week(
    rooms: list[Home], drive: Path, tmp_path: Path
) -> None:
    """What was told stays; a correction is never alone, and counts for no rule of what may be told."""
    for home in rooms:
        put(home, drive)
    before, _ = read(drive, tmp_path / "store", date(2026, 10, 20))
    reopen(rooms[0])
    put(rooms[0], drive)
    assert read(drive, tmp_path / "store", date(2026, 11, 2))[0].spans == before.spans, "it is alone"
    for home in rooms:
        for tree in TREES:
            hold(home, 4, tree)
        put(home, drive)
    after, _ = read(drive, tmp_path / "other", date(2026, 10, 20))
    assert after.praise == 37, "who gathers now for the first time is told what is right"
    after, _ = read(drive, tmp_path / "store")
    assert after.spans[:2] == before.spans
    assert [(one.name, one.praise) for one in after.spans[2:]] == [("2026-10-05", 19)]
    assert (after.lessons, after.praise) == (27, 36 + 19)


def test_files_of_the_first_version_are_read(rooms: list[Home], drive: Path, tmp_path: Path) -> None:
    """They lack a column; beside newer ones of the same week, too."""
    for home in rooms:
        put(home, drive)
    look, _ = read(drive, tmp_path / "store")
    for file in sorted(drive.rglob("*.parquet"))[::3]:
        old = tmp_path / "old.parquet"
        with engine(folders=[drive, tmp_path]) as db:
            columns = ", ".join(COLUMNS_OF_1)
            db.execute(f"COPY (SELECT {columns} FROM '{file}') TO '{old}' (FORMAT parquet)")
        file.unlink()
        shutil.move(old, file.with_name(f"{file.name[:10]}.{checksum(old)}.parquet"))
    assert read(drive, tmp_path / "new store") == (look, ())


def test_a_room_that_joins_is_told_with_weeks_of_which_nothing_was_told(
    rooms: list[Home], drive: Path, tmp_path: Path
) -> None:
    """Two rooms told nothing, so the third opens them; a fourth, months later, is not told of those weeks."""
    for home in rooms[:2]:
        put(home, drive)
    assert read(drive, tmp_path / "store")[0].lessons == 0
    put(rooms[2], drive)
    told, _ = read(drive, tmp_path / "store")
    assert told.lessons == 18
    fourth = Home(tmp_path / "fourth").create()
    for tree in TREES:
        hold(fourth, 0, tree)
    put(fourth, drive)
    assert read(drive, tmp_path / "store", date(2027, 3, 1))[0] == replace(told, closed="2027-02-08")


def test_weeks_that_go_on_and_counts_that_wait_are_not_shared(rooms: list[Home], drive: Path) -> None:
    """A lesson that was never settled is shared when it is two weeks old."""
    assert put(rooms[0], drive, date(2026, 9, 13)).lessons == 0
    assert put(rooms[0], drive, date(2026, 9, 14)).lessons == 3
    with open_log(rooms[1].log) as log:
        session = log.open_session(ev.SessionOpened("4-Oak", PLAN), MONDAY + timedelta(weeks=8)).id
        log.append(session, ev.SessionClosed(1, Source.KEY), at=MONDAY, offset_ms=1)
    assert put(rooms[1], drive, date(2026, 11, 9)).lessons == 6
    assert put(rooms[1], drive, date(2026, 11, 16)).lessons == 1


def test_logs_and_exports_are_read_where_they_lie(rooms: list[Home], drive: Path, tmp_path: Path) -> None:
    """A room that also shares is counted once; the log is not changed, nor is a file put beside it."""
    put(rooms[0], drive)
    shutil.copy(rooms[0].log, drive / "garden.db")
    with open_log(rooms[1].log) as log:
        hand_out(log, drive / "music", "parquet", (*SHAPES, NOTES))
    put(rooms[2], drive)
    before = (drive / "garden.db").read_bytes()
    look, problems = read(drive, tmp_path / "store")
    assert (look.lessons, problems) == (18, ())
    assert (drive / "garden.db").read_bytes() == before
    shutil.rmtree(drive / "music")
    (drive / "other.db").write_bytes(b"SQLite format 3\x00 and no more")
    (drive / "Thumbs.db").write_bytes(b"another program's")
    (drive / "empty.db").touch()
    problems = read(drive, tmp_path / "store")[1]
    assert [str(drive / "other.db") in problem for problem in problems] == [True]
    assert "can't be read as a session log" in problems[0]


@needs_posix
def test_a_log_that_goes_on_being_written_keeps_its_locks(rooms: list[Home], tmp_path: Path) -> None:
    """The room's own home may be named as the folder of all; without locks marks go the next time."""
    with open_log(rooms[0].log) as lesson:
        lesson.summaries()
        assert _is_held(rooms[0].log)
        gathered = gather(rooms[0].folder, Store(tmp_path / "store"), TODAY)
        assert (gathered.files, gathered.lessons) == (1, 6)
        assert _is_held(rooms[0].log)


@makes_links
def test_links_in_the_folder_are_not_followed(rooms: list[Home], drive: Path) -> None:
    """Whoever may write there could have any file of this computer opened."""
    for name in ("garden.db", f"2026-09-07.{'0' * SUM_LENGTH}.parquet"):
        (drive / name).symlink_to(rooms[0].log)
    assert look_through(drive) == FolderContents()


def _is_held(log: Path) -> bool:
    """Whether another program is kept out of the log."""
    asked = [sys.executable, "-c", OTHER_PROGRAM, str(log)]
    return subprocess.run(asked, check=False).returncode == HELD


def test_individual_notes_are_never_opened(rooms: list[Home], drive: Path, tmp_path: Path) -> None:
    """SQLite and DuckDB refuse what is not sums of whole classes; no word of a note is in any file."""
    with log_file.opened(rooms[0].log) as db:
        for table in ("event", "promise", "carry_over_answer", "award"):
            with pytest.raises(sqlite3.DatabaseError, match=r"prohibited|not authorized"):
                db.execute(f"SELECT * FROM {table}")
        with pytest.raises(sqlite3.DatabaseError, match=r"prohibited|not authorized"):
            db.execute("SELECT carry_over FROM summary")
    with open_log(rooms[0].log) as log:
        hand_out(log, drive / "garden", "parquet", (*SHAPES, NOTES))
    allowed = [drive / "garden" / "sessions.parquet"]
    notes = drive / "garden" / "individual_notes.parquet"
    with engine(files=allowed) as db:
        assert db.execute(f"SELECT count(*) FROM '{allowed[0]}'").fetchone() == (6,)
        with pytest.raises(Exception, match="individual_notes"):
            db.execute(f"SELECT * FROM '{notes}'")
    notes.write_bytes(b"opening it as Parquet fails")
    for home in rooms[1:]:
        put(home, drive)
    look, problems = read(drive, tmp_path / "store")
    assert (look.lessons, problems) == (18, ())
    files = [*tmp_path.joinpath("store").rglob("*"), *drive.rglob("20*.parquet")]
    held = b"".join(file.read_bytes() for file in files if file.is_file())
    assert b"Q.Z." not in held
    assert b"asleep" not in held


def test_what_a_guest_taught_is_not_shared(rooms: list[Home], drive: Path) -> None:
    """Whoever stands in is not looked at."""
    with open_log(rooms[0].log) as log:
        newest = log.summaries(most=1)[0].session
        log.append(newest, aftercare.SessionTaught(by_guest=True), at=MONDAY, offset_ms=6_000)
    assert put(rooms[0], drive).lessons == 5


def test_without_the_folder_nothing_is_shared(rooms: list[Home], drive: Path, tmp_path: Path) -> None:
    """The message says what is safe and what to do."""
    with pytest.raises(CompanionError, match="There is no folder"):
        put(rooms[0], tmp_path / "gone")
    with pytest.raises(CompanionError, match="There is no folder"):
        gather(tmp_path / "gone", Store(tmp_path / "store"), TODAY)
    with pytest.raises(CompanionError, match="There is no session log here yet"):
        put(Home(tmp_path / "empty").create(), drive)
