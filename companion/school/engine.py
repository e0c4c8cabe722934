"""DuckDB as the school uses it: only the named files, bounded memory, nothing fetched."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from companion.errors import CompanionError
from companion.language import _

if TYPE_CHECKING:
    import duckdb

MEMORY = "1GB"
"""More is written to the disk meanwhile."""


@contextmanager
def engine(
    *,
    files: Sequence[Path] = (),
    folders: Sequence[Path] = (),
    spill: Path | None = None,
    memory: str = MEMORY,
) -> Iterator["duckdb.DuckDBPyConnection"]:
    """Give a DuckDB of its own in memory that can open these files, and all in these folders, and no other.

    spill: the folder for what does not fit into memory. Raises CompanionError if DuckDB is not installed.
    """
    try:
        import duckdb  # noqa: PLC0415 - an extra
    except ModuleNotFoundError:
        raise CompanionError(
            _("Many rooms are asked together by a part that is not installed."),
            safe=_("Nothing was changed."),
            remedy=_("Install it with the extra “school”: pipx install '.[school]' in the project's folder."),
        ) from None
    config: dict[str, str | bool | int | float | list[str]] = {
        "autoinstall_known_extensions": False,
        "autoload_known_extensions": False,
        "memory_limit": memory,
        "preserve_insertion_order": False,
    }
    with duckdb.connect(config=config) as db:
        db.execute(f"SET allowed_paths = {listed(files)}")
        db.execute(f"SET allowed_directories = {listed([*folders, *([spill] if spill else [])])}")
        if spill:
            db.execute(f"SET temp_directory = {quoted(spill)}")
        db.execute("SET enable_external_access = false")
        db.execute("SET lock_configuration = true")
        yield db


def quoted(text: object) -> str:
    """Return a text as SQL writes it."""
    return "'" + str(text).replace("'", "''") + "'"


def listed(files: Sequence[Path]) -> str:
    """Return a list of files as SQL writes it."""
    return f"[{', '.join(map(quoted, files))}]::VARCHAR[]"
