"""Files that are replaced whole."""

import os
import stat
from pathlib import Path

import pytest

from companion.paths import replace_file


def test_a_file_is_replaced_whole_and_private(tmp_path: Path) -> None:
    """What was open to others before is this user's only, and nothing is left beside it."""
    path = tmp_path / "kept"
    path.write_text("old")
    path.chmod(0o644)
    replace_file(path, b"new")
    assert path.read_bytes() == b"new"
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert list(tmp_path.iterdir()) == [path]


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
