"""Where the files of an open log are."""

from pathlib import Path

import pytest

from companion.log.store import open_log
from companion.log.whereabouts import VIEW, WAITING, LogMovedError, Whereabouts, beside
from tests.systems import moves_open_files


@moves_open_files
@pytest.mark.parametrize(
    ("end", "words"), [("", "is gone"), (WAITING, "was taken away"), (VIEW, "was taken away")]
)
def test_each_file_of_a_log_is_missed(tmp_path: Path, end: str, words: str) -> None:
    """Whether it is deleted, or another of its name lies there."""
    path = tmp_path / "sessions.db"
    with open_log(path):
        whereabouts = Whereabouts.of(path)
        assert not whereabouts.left
        beside(path, end).rename(tmp_path / "away")
        assert whereabouts.left
        assert words in str(whereabouts.error())
        assert whereabouts.holds_log == bool(end)
        beside(path, end).touch()
        assert whereabouts.left


def test_a_log_that_is_emptied_is_missed(tmp_path: Path) -> None:
    """It is the same file still; what is written behind its end is no log."""
    path = tmp_path / "sessions.db"
    with open_log(path) as log:
        path.write_bytes(b"")
        assert log.moved
        assert "was emptied" in str(log.moved_error)
        with pytest.raises(LogMovedError, match=r"emptied.*companion log restore"):
            log.reopen()


def test_a_log_without_files_beside_it_lacks_none(tmp_path: Path) -> None:
    """As one that is only read: what comes beside it later was not there."""
    path = tmp_path / "sessions.db"
    path.write_bytes(b"a log")
    whereabouts = Whereabouts.of(path)
    beside(path, WAITING).touch()
    assert not whereabouts.left
