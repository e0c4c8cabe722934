"""Where all rooms' lessons are gathered; what was told stays as it was told.

A folder: `lessons/WEEK.RUN.parquet` in the shape of `layout`, with three columns more (`TOLD`); in `groups/`
what may be told of each half-year, and the answers over all of them; `gathered.txt` has the checksums of the
files that are in it; `closed.txt` the last week that is told. It can be thrown away and gathered again.
"""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from companion.paths import Home
from companion.school.engine import listed
from companion.school.layout import COLUMNS

NEVER, NOT_ANY_MORE = "0001-01-01", "9999-12-31"
TOLD = {"told": "VARCHAR", "sign": "INTEGER", "counted": "INTEGER"}
"""The week in which a row is told; 1, or -1 where a corrected lesson takes it back; and 1 where the row is of
a lesson as it came first: what corrects it counts for no rule of what may be told."""


@dataclass(frozen=True, slots=True)
class Store:
    """Where the gathered lessons lie."""

    folder: Path

    @property
    def lessons(self) -> Path:
        """The Parquet files that the questions read."""
        return self.folder / "lessons"

    @property
    def groups(self) -> Path:
        """The groups that may be told, made of the lessons."""
        return self.folder / "groups"

    @property
    def answers(self) -> Path:
        """What the groups come to over all spans."""
        return self.groups / "answers.json"

    def groups_of(self, name: str) -> list[Path]:
        """Return the files of one kind of groups, a half-year each."""
        return sorted(self.groups.glob(f"*{name}.parquet"))

    @property
    def spill(self) -> Path:
        """For what does not fit into memory."""
        return self.folder / "spill"

    @property
    def closed(self) -> str:
        """The Monday of the last week that is told."""
        file = self.folder / "closed.txt"
        return file.read_text(encoding="ascii") if file.exists() else NEVER

    @property
    def gathered(self) -> set[str]:
        """The checksums of the week files that are in it."""
        file = self.folder / "gathered.txt"
        return set(file.read_text(encoding="ascii").split()) if file.exists() else set()

    @property
    def files(self) -> list[Path]:
        """Its lessons' files."""
        return sorted(self.lessons.glob("*.parquet"))


def store_of(home: Home, folder: Path) -> Store:
    """Return the store of what is gathered from a folder: each folder has its own, in the home."""
    name = hashlib.sha256(str(folder.resolve()).encode()).hexdigest()[:12]
    return Store(home.school / name)


def stored(files: Sequence[Path]) -> str:
    """Return the SQL of all rows of a store's files, those of an older version with what was meant there."""
    nothing = ", ".join(f"NULL::{kind} AS {name}" for name, kind in (COLUMNS | TOLD).items())
    read = f" UNION ALL BY NAME FROM read_parquet({listed(files)}, union_by_name = true)"
    meant = {"revision": 0, "sign": 1, "counted": 1}
    columns = ", ".join(
        f"coalesce({name}, {meant[name]}) AS {name}" if name in meant else name for name in COLUMNS | TOLD
    )
    return f"SELECT {columns} FROM (SELECT {nothing} WHERE false{read if files else ''})"  # noqa: S608
