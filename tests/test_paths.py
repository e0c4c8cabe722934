"""Files that are replaced whole."""

import os
import sqlite3
import threading
from contextlib import closing
from pathlib import Path

import pytest

from companion.paths import replace_file, sqlite_uri
from tests.systems import is_private


def test_a_file_is_replaced_whole_and_private(tmp_path: Path) -> None:
    """What was open to others before is this user's only, and nothing is left beside it."""
    path = tmp_path / "kept"
    path.write_text("old")
    path.chmod(0o644)
    replace_file(path, b"new")
    assert path.read_bytes() == b"new"
    assert is_private(path)
    assert list(tmp_path.iterdir()) == [path]


def test_a_file_that_is_being_read_is_replaced_as_soon_as_it_is_free(tmp_path: Path) -> None:
    """On Windows a virus scanner, or our own look at the settings, holds it for a moment."""
    path = tmp_path / "kept"
    path.write_text("old")
    reader = path.open()
    closing = threading.Timer(0.1, reader.close)
    closing.start()
    replace_file(path, b"new")
    closing.join()
    assert path.read_bytes() == b"new"
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize("name", ["José ä #1% 한.db", "a&mode=rwc.db"])
def test_sqlite_opens_a_file_whatever_its_name_is(tmp_path: Path, name: str) -> None:
    """No slash is left that would make a server of what follows it."""
    with closing(sqlite3.connect(tmp_path / name)) as db:
        db.execute("CREATE TABLE row_of_leeks (place)")
    uri = sqlite_uri(tmp_path / name, "ro")
    assert not {"/", "\\"} & set(uri)
    with closing(sqlite3.connect(uri, uri=True)) as db:
        assert db.execute("SELECT name FROM sqlite_schema").fetchall() == [("row_of_leeks",)]
        with pytest.raises(sqlite3.OperationalError, match="readonly"):
            db.execute("CREATE TABLE another (place)")


def test_a_disk_that_takes_nothing_leaves_the_file_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Neither half a file nor a new one beside it."""
    path = tmp_path / "kept"
    path.write_text("old")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        replace_file(path, b"new")
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]
