"""Many rooms over years in the layout that rooms share, by arithmetic; and how long their questions take."""

import hashlib
import shutil
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import psutil

from companion.bench.school_years import PLAN, SESSIONS_A_WEEK, TREES, WEEKS
from companion.school.ask import ask, sum_up
from companion.school.engine import engine, quoted
from companion.school.gather import close_weeks, gather
from companion.school.layout import COLUMNS
from companion.school.store import Store
from companion.school.week_file import SUM_LENGTH

if TYPE_CHECKING:
    import duckdb

ROOMS_A_SCHOOL, SHAPES = 5, 50
SCHOOL, ROOM, LESSON = "school %06d", "room %06d", "lesson %06d"
"""Names, all of one length."""
TODAY = date(2026, 11, 28)
_CHANCE = "((r * 7919 + w * 104729 + s * 1299709 + p * 15485863 + {salt}) * 2654435761 % 4294967296)"


@dataclass(frozen=True, slots=True)
class RoomsMeasured:
    """What one number of rooms came to; seconds of the clock and, behind it, of the processor."""

    rooms: int
    lessons: int
    marks: int
    bytes: int
    gathered: tuple[float, float]
    """Of the week files; 0 where the store was made without them."""
    first: tuple[float, float]
    """From the gathered lessons to the first answer."""
    again: tuple[float, float]
    """The same questions again, of the groups."""
    peak_mb: float
    """Memory of this process after the answers; the engine keeps what it took."""

    @property
    def line(self) -> str:
        """Say it in one line of the table."""
        times = "".join(f"{wall:9.1f} {cpu:7.1f}" for wall, cpu in (self.gathered, self.first, self.again))
        return (
            f"{self.rooms:6,} {self.lessons:12,} {self.marks:12,} {self.bytes / 1e6:8.1f} {times}"
            f" {self.peak_mb:8.0f}"
        )


HEADING = (
    " rooms      lessons        marks       MB   gathered, cpu s   first answer, cpu  again, cpu s   peak MB"
)


def rows_sql(rooms: int, week: int, monday: date) -> str:
    """Return the SQL of all rooms' rows of a week: 35 lessons of six phases each, the same at each call."""
    lessons = f"range({rooms}) a(r), range({SESSIONS_A_WEEK}) b(s), (SELECT {week} AS w)"
    praise, reminder = (f"({_CHANCE.format(salt=salt)} >> 16) % {most}" for salt, most in ((11, 4), (23, 2)))
    return f"""
        WITH drawn AS (
            SELECT r, w, s, p, ({praise})::INTEGER AS praise,
                CASE WHEN ({_CHANCE.format(salt=37)} >> 16) % 100 < 85 THEN ({reminder}) ELSE 2 END::INTEGER
                    AS reminder,
                (s + w * {SESSIONS_A_WEEK}) % 40 AS class_number
            FROM {lessons}, range(6) c(p)
        ),
        summed AS (
            SELECT *, sum(praise - reminder) OVER (PARTITION BY r, s) AS margin FROM drawn
        )
        SELECT printf('{SCHOOL}', r // {ROOMS_A_SCHOOL}) AS school, printf('{ROOM}', r) AS room,
            printf('{LESSON}', r) || ' {monday} ' || s AS session, '{monday}' AS week,
            (1 + class_number // 8) || '-' || {list(TREES)}[1 + class_number % 8] AS class_group,
            (1 + class_number // 8)::VARCHAR AS grade,
            CASE WHEN margin >= 8 THEN 'Full basket' WHEN margin >= 4 THEN 'Half basket'
                WHEN margin >= 1 THEN 'First sprout' ELSE '' END AS recognition,
            (p = 0)::INTEGER AS lesson,
            {[phase.name for phase in PLAN]}[1 + p] AS phase, p::INTEGER AS place,
            1 AS held, praise, reminder, (praise * 2 // 3)::INTEGER AS named,
            ((r + w + s) % 30 = 0 AND p = 4)::INTEGER AS taught,
            ((r + w + s) % 31 = 0 AND p = 4)::INTEGER AS known,
            CASE WHEN (r + w + s) % 31 = 0 AND p = 4 THEN 6 ELSE 0 END AS then_lessons,
            CASE WHEN (r + w + s) % 31 = 0 AND p = 4 THEN (r + s) % 3 ELSE 0 END::INTEGER AS then_needy,
            CASE WHEN (r + w + s) % 31 = 0 AND p = 4 THEN 1700 ELSE 0 END AS then_expected,
            CASE WHEN (r + w + s) % 31 = 0 AND p = 4 THEN 1300 ELSE 0 END AS then_spread,
            0 AS revision
        FROM summed
    """  # noqa: S608 - a simulation


def mondays(years: int) -> list[date]:
    """Return the Mondays of the school weeks of years, oldest first, the last ones told today."""
    newest = TODAY - timedelta(days=TODAY.weekday(), weeks=4)
    return sorted(
        newest - timedelta(weeks=52 * year + week) for year in range(years) for week in range(WEEKS)
    )


def make_drive(folder: Path, rooms: int, weeks: Sequence[date]) -> None:
    """Make the week files of rooms in the new folder, as the rooms would share them.

    The lessons of `SHAPES` rooms are made up; each further room has those of one of them under its own name,
    put into the bytes of the file.
    """
    for room in range(rooms):
        (folder / f"room-{room}").mkdir(parents=True)
    with engine(folders=[folder]) as db:
        for number, monday in enumerate(weeks):
            shapes = _shapes(db, folder / f"{monday}", rows_sql(min(rooms, SHAPES), number, monday))
            for room in range(rooms):
                content = _renamed(shapes[room % SHAPES], room % SHAPES, room)
                name = f"{monday}.{hashlib.sha256(content).hexdigest()[:SUM_LENGTH]}.parquet"
                (folder / f"room-{room}" / name).write_bytes(content)


def _shapes(db: "duckdb.DuckDBPyConnection", folder: Path, rows: str) -> list[bytes]:
    """Return the week files of some rooms, in which names stand as they are."""
    db.execute(
        f"COPY (SELECT {', '.join(COLUMNS)}, room AS part FROM ({rows})) TO {quoted(folder)}"  # noqa: S608
        " (FORMAT parquet, COMPRESSION uncompressed, PARTITION_BY (part))"
    )
    files = sorted(folder.rglob("*.parquet"))
    found = [file.read_bytes() for file in files]
    shutil.rmtree(folder)
    return found


def _renamed(content: bytes, old: int, new: int) -> bytes:
    """Return a week file with the names of another room, which are as long."""
    for name, each in ((SCHOOL, ROOMS_A_SCHOOL), (ROOM, 1), (LESSON, 1)):
        content = content.replace((name % (old // each)).encode(), (name % (new // each)).encode())
    return content


def make_store(store: Store, rooms: int, weeks: Sequence[date]) -> None:
    """Make a store of the weeks that begin on these days, as gathering would have made it."""
    store.lessons.mkdir(parents=True)
    with engine(folders=[store.folder], spill=store.spill) as db:
        for number, monday in enumerate(weeks):
            file = store.lessons / f"{monday}.00000.parquet"
            db.execute(
                f"COPY (SELECT *, week AS told, 1 AS sign, 1 AS counted"  # noqa: S608 - a simulation
                f" FROM ({rows_sql(rooms, number, monday)})) TO {quoted(file)}"
                " (FORMAT parquet, COMPRESSION zstd)"
            )
    close_weeks(store, TODAY)


def measure_rooms(folder: Path, rooms: int, weeks: Sequence[date], *, with_files: bool) -> RoomsMeasured:
    """Make rooms in the new folder, gather their weeks that begin on these days, and ask.

    with_files: from the rooms' week files.
    """
    store = Store(folder / "store")
    gathered = 0.0, 0.0
    if with_files:
        make_drive(folder / "drive", rooms, weeks)
        gathered = _timed(lambda: gather(folder / "drive", store, TODAY))
    else:
        make_store(store, rooms, weeks)
    first = _timed(lambda: _first(store))
    # Between days: over all spans the answers are kept.
    again = _timed(lambda: ask(store, date.min, date.max))
    look = ask(store)
    size = sum(file.stat().st_size for file in store.files)
    peak = psutil.Process().memory_info().rss / 1e6
    return RoomsMeasured(rooms, look.lessons, look.praise + look.reminder, size, gathered, first, again, peak)


def _first(store: Store) -> None:
    sum_up(store)
    ask(store)


def _timed(work: Callable[[], object]) -> tuple[float, float]:
    begin, cpu = time.perf_counter(), time.process_time()
    work()
    return time.perf_counter() - begin, time.process_time() - cpu
