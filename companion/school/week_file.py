"""A week of a room as one file: named by its week and its checksum, written once, never changed."""

import hashlib
import os
import re
from collections.abc import Iterable, Sequence
from dataclasses import astuple
from pathlib import Path
from typing import TYPE_CHECKING

from companion.school.engine import quoted
from companion.school.layout import COLUMNS, LessonPhase

if TYPE_CHECKING:
    import duckdb

SUM_LENGTH = 32
NAME = re.compile(rf"(?P<week>\d{{4}}-\d\d-\d\d)\.(?P<sum>[0-9a-f]{{{SUM_LENGTH}}})\b.*\.parquet")
"""What a copying program puts behind the checksum, as in “(1)”, changes nothing."""
BATCH = 5_000


def checksum(file: Path) -> str:
    """Return the checksum of a file that is in its name: the first half of SHA-256. Raises OSError."""
    with file.open("rb") as opened:
        return hashlib.file_digest(opened, "sha256").hexdigest()[:SUM_LENGTH]


def is_whole(file: Path) -> bool:
    """Return whether the file is what its name says. Raises OSError."""
    named = NAME.fullmatch(file.name)
    return named is not None and named["sum"] == checksum(file)


def put_rows(db: "duckdb.DuckDBPyConnection", table: str, rows: Iterable[Sequence[object]]) -> None:
    """Make the table `table` of `rows` in the shape of `layout.COLUMNS`."""
    columns = ", ".join(f"{name} {kind} NOT NULL" for name, kind in COLUMNS.items())
    db.execute(f"CREATE OR REPLACE TEMP TABLE {table} ({columns})")
    all_rows = list(rows)
    marks = f"({', '.join('?' for _ in COLUMNS)})"
    for at in range(0, len(all_rows), BATCH):
        batch = all_rows[at : at + BATCH]
        values = [value for row in batch for value in row]
        db.execute(f"INSERT INTO {table} VALUES {', '.join(marks for _ in batch)}", values)  # noqa: S608


def write_week(db: "duckdb.DuckDBPyConnection", folder: Path, week: str, rows: Sequence[LessonPhase]) -> Path:
    """Write the rows of a week into a new file of `folder` and return it. Raises OSError.

    The file gets its name when it is whole and on the disk.
    """
    fresh = folder / f".{week}.{os.getpid()}.new"
    put_rows(db, "week", map(astuple, rows))
    try:
        db.execute(f"COPY week TO {quoted(fresh)} (FORMAT parquet, COMPRESSION zstd)")
        with fresh.open("rb+") as opened:
            os.fsync(opened.fileno())
        file = folder / f"{week}.{checksum(fresh)}.parquet"
        fresh.rename(file)
    finally:
        fresh.unlink(missing_ok=True)
    return file
