"""All rooms' lessons gathered into one store that is asked, whatever comes late, twice or anew."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import astuple, dataclass, field
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from companion.errors import CompanionError
from companion.language import _
from companion.paths import private_folder, replace_file
from companion.school.engine import engine, listed, quoted
from companion.school.export_folder import is_export, read_export
from companion.school.layout import COLUMNS, COLUMNS_OF_1, LessonPhase, monday_of
from companion.school.log_file import is_database, read_log, room_in
from companion.school.room import in_weeks, lesson_phases
from companion.school.store import NEVER, NOT_ANY_MORE, Store, stored
from companion.school.week_file import NAME, is_whole, put_rows

if TYPE_CHECKING:
    import duckdb

GRACE = timedelta(days=14)
"""So long a week waits for rooms that share late, before it is told; then it is closed for good."""
LATEST = timedelta(weeks=8)
"""A lesson that comes later than that, into a month of which something was told, is not told any more."""
IN_PLACE = "~"
"""Stands for a log or an export, behind the names of all files: what a room has shared comes before them."""


@dataclass(frozen=True, slots=True)
class FolderContents:
    """What lies in a folder: week files by their week, logs and exports."""

    weeks: dict[str, list[Path]] = field(default_factory=lambda: defaultdict(list))
    logs: list[Path] = field(default_factory=list)
    exports: list[Path] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Gathered:
    """What came of gathering."""

    files: int
    """Week files, logs and exports that were read now."""
    lessons: int
    """Lessons that are new in the store."""
    corrected: int
    """Lessons whose count was opened again after they were shared."""
    problems: tuple[str, ...]
    """What was not read, and why."""


def look_through(folder: Path) -> FolderContents:
    """Return what lies anywhere in `folder`. Links are not followed, so that nothing else is opened."""
    found = FolderContents()
    for file in sorted(folder.rglob("*")):
        if file.is_dir():
            if is_export(file):
                found.exports.append(file)
        elif file.is_symlink():
            continue
        elif named := NAME.fullmatch(file.name):
            found.weeks[named["week"]].append(file)
        elif file.suffix == ".db" and is_database(file):
            found.logs.append(file)
    if is_export(folder):
        found.exports.append(folder)
    return found


def gather(folder: Path, store: Store, today: date) -> Gathered:
    """Take what is new in `folder` into the store, and close the weeks that have waited long enough.

    Raises CompanionError if there is no such folder, or the store can't be written.
    """
    if not folder.is_dir():
        raise CompanionError(
            _("There is no folder {folder}.", folder=folder),
            safe=_("Nothing was changed."),
            remedy=_("Correct its name."),
        )
    private_folder(store.lessons)
    private_folder(store.spill)
    try:
        found = look_through(folder)
        run = _Run(store, today)
        with engine(folders=[folder, store.folder], spill=store.spill) as db:
            run.take(db, found)
        close_weeks(store, today)
    except OSError as error:
        raise CompanionError(
            _("The lessons can't be gathered ({error}).", error=error),
            safe=_("What rooms have shared is as it was."),
            remedy=_("Look at the disk and try again: nothing is counted twice."),
        ) from error
    return Gathered(run.files, run.lessons, run.corrected, tuple(run.problems))


def close_weeks(store: Store, today: date) -> None:
    """Close the weeks that ended `GRACE` before today; a week that is closed stays so. Raises OSError."""
    closed = monday_of(f"{today - GRACE - timedelta(weeks=1)}")
    if closed > store.closed:
        replace_file(store.folder / "closed.txt", closed.encode())


class _Run:
    """One gathering."""

    def __init__(self, store: Store, today: date) -> None:
        self.store = store
        self.today = today
        self.number = len({file.name.split(".")[1] for file in store.files})
        closed = store.closed
        self.first_open = closed if closed == NEVER else f"{date.fromisoformat(closed) + timedelta(weeks=1)}"
        self.told_months: set[str] | None = None
        self.files = 0
        self.lessons = 0
        self.corrected = 0
        self.problems: list[str] = []

    def take(self, db: "duckdb.DuckDBPyConnection", found: FolderContents) -> None:
        """Take all that is new, week by week, so that memory does not grow with the years."""
        done = self.store.gathered
        rows = in_weeks(self._rows_in_place(found))
        for week in sorted({*found.weeks, *rows}):
            files = list(self._whole(found.weeks.get(week, ()), done))
            if files or week in rows:
                self._take_week(db, week, files, rows.get(week, ()))
                with (self.store.folder / "gathered.txt").open("a", encoding="ascii") as gathered:
                    gathered.writelines(f"{_sum(file)}\n" for file in files)

    def _rows_in_place(self, found: FolderContents) -> Iterator[LessonPhase]:
        """Yield the rows of logs and exports, which are read where they lie."""
        for path in (*found.logs, *found.exports):
            try:
                if path.is_dir():
                    name, lessons = read_export(path)
                else:
                    lessons = read_log(path)
                    name = room_in(path)
            except CompanionError as error:
                self.problems.append(str(error))
                continue
            self.files += 1
            yield from lesson_phases("", name, lessons, self.today)

    def _whole(self, files: Iterable[Path], done: set[str]) -> Iterator[Path]:
        """Yield the files that are new and are what their names say, each content once."""
        seen = set(done)
        for file in files:
            if _sum(file) in seen:
                continue
            if is_whole(file):
                seen.add(_sum(file))
                yield file
            else:
                self.problems.append(_("{file} is not whole, or was changed: it was not read.", file=file))

    def _take_week(
        self, db: "duckdb.DuckDBPyConnection", week: str, files: Sequence[Path], rows: Sequence[LessonPhase]
    ) -> None:
        put_rows(db, "fresh", map(astuple, rows))
        db.execute(f"ALTER TABLE fresh ADD COLUMN source VARCHAR DEFAULT {quoted(IN_PLACE)}")
        self._insert(db, files)
        there = sorted(self.store.lessons.glob(f"{week}.*.parquet"))
        db.execute(f"CREATE OR REPLACE TEMP TABLE there AS {stored(there)}")
        db.execute(_KNOWN)
        db.execute(_CHOSEN.format(week=quoted(week)))
        told = quoted(self._told(db, week))
        db.execute(_NEW.format(columns=_FRESH, told=told))
        db.execute(_CORRECTED.format(columns=_FRESH, there=", ".join(COLUMNS), told=told))
        lessons, corrected = db.execute(
            "SELECT count(DISTINCT session) FILTER (counted = 1),"
            " count(DISTINCT session) FILTER (counted = 0) FROM new"
        ).fetchall()[0]
        if lessons or corrected:
            file = self.store.lessons / f"{week}.{self.number:05}.parquet"
            fresh = file.with_suffix(".new")
            db.execute(f"COPY new TO {quoted(fresh)} (FORMAT parquet, COMPRESSION zstd)")
            fresh.rename(file)
            self.lessons += lessons
            self.corrected += corrected

    def _told(self, db: "duckdb.DuckDBPyConnection", week: str) -> str:
        """Return the week in which lessons of `week` that come now are told.

        Their own, unless something of its month was told: who keeps the answers of then would have the late
        ones by subtraction.
        """
        if self.told_months is None:
            self.told_months = self._months_told(db)
        if week >= self.first_open or week[:7] not in self.told_months:
            return week
        if date.fromisoformat(self.first_open) - date.fromisoformat(week) > LATEST:
            return NOT_ANY_MORE
        return self.first_open

    def _months_told(self, db: "duckdb.DuckDBPyConnection") -> set[str]:
        """Return the months of which something was told, as in 2026-09."""
        spans: set[str] = set()
        for name in ("spans", "taught_groups"):
            if files := self.store.groups_of(name):
                rows = db.execute(f"SELECT DISTINCT span FROM read_parquet({listed(files)})").fetchall()  # noqa: S608
                spans |= {row[0] for row in rows}
        halves = {"H1": range(1, 7), "H2": range(7, 13)}
        return {
            month
            for span in spans
            for month in (
                [f"{span[:4]}-{number:02}" for number in halves[span[5:]]] if "H" in span else [span[:7]]
            )
        }

    def _insert(self, db: "duckdb.DuckDBPyConnection", files: Sequence[Path]) -> None:
        """Read the files into the table `fresh`; one that is not as the layout says is a problem."""
        import duckdb  # noqa: PLC0415 - an extra

        if not files:
            return
        try:
            self._read(db, files, ", ".join(COLUMNS))
        except duckdb.Error as error:
            if files[1:]:
                middle = len(files) // 2
                self._insert(db, files[:middle])
                self._insert(db, files[middle:])
                return
            try:
                self._read(db, files, ", ".join(COLUMNS_OF_1) + ", 0")
            except duckdb.Error:
                why = str(error).splitlines()[0]
                self.problems.append(_("{file} was not read: {error}", file=files[0], error=why))

    def _read(self, db: "duckdb.DuckDBPyConnection", files: Sequence[Path], columns: str) -> None:
        db.execute(
            f"INSERT INTO fresh SELECT {columns}, filename FROM"  # noqa: S608 - our own names
            f" read_parquet({listed(files)}, filename = true)"
        )
        self.files += len(files)


_FRESH = ", ".join(f"fresh.{name}" for name in COLUMNS)
_KNOWN = """
    CREATE OR REPLACE TEMP TABLE known AS
    SELECT session, max(revision) AS revision, max(told) AS told FROM there GROUP BY session
"""
_CHOSEN = """
    CREATE OR REPLACE TEMP TABLE chosen AS
    SELECT session, min({{'revision': -revision, 'source': source, 'room': room}}) AS best
    FROM fresh WHERE week = {week} AND lesson = 1 GROUP BY session
"""
"""A lesson that several sources have is taken from one of them, that which knows it best."""
_NEW = """
    CREATE OR REPLACE TEMP TABLE new AS
    SELECT {columns}, {told} AS told, 1 AS sign, 1 AS counted
    FROM fresh JOIN chosen USING (session)
    WHERE -revision = best.revision AND source = best.source AND room = best.room
        AND session NOT IN (SELECT session FROM known)
"""
_CORRECTED = """
    WITH corrected AS (
        SELECT session, best, greatest(known.told, {told}) AS told
        FROM chosen JOIN known USING (session) WHERE -best.revision > known.revision
    )
    INSERT INTO new
    SELECT {there}, corrected.told, -sign, 0 FROM there JOIN corrected USING (session)
    UNION ALL
    SELECT {columns}, corrected.told, 1, 0 FROM fresh JOIN corrected USING (session)
    WHERE -revision = best.revision AND source = best.source AND room = best.room
"""
"""What was told of a lesson is never changed: what it was is taken back, and what it is put in its place, in
the week in which its like is told now."""


def _sum(file: Path) -> str:
    named = NAME.fullmatch(file.name)
    assert named
    return named["sum"]
