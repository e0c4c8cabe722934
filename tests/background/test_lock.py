"""Whether a companion runs, by its lock."""

from pathlib import Path

from filelock import FileLock

from companion.background.lock import LOCK, is_free, is_held


def test_the_lock_says_whether_a_companion_runs_has_run_or_is_not_known(tmp_path: Path) -> None:
    """Who asks holds nobody up, and takes nobody else who asks for a companion."""
    assert (is_held(tmp_path), is_free(tmp_path)) == (False, False)
    with FileLock(tmp_path / LOCK):
        assert (is_held(tmp_path), is_free(tmp_path)) == (True, False)
    assert (is_held(tmp_path), is_free(tmp_path)) == (False, True)
    with FileLock(tmp_path / LOCK, timeout=0):
        pass
