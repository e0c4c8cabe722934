"""The lock that a companion holds as long as it runs; the system frees that of one that crashed."""

import os
import sys
from pathlib import Path

LOCK = "lock"
"""The file, in the folder `run`."""


def is_held(run: Path) -> bool:
    """Whether a companion runs with the folder `run`."""
    return _is_held(run / LOCK) is True


def is_free(run: Path) -> bool:
    """Whether a companion has run with the folder `run`, and none does now."""
    return _is_held(run / LOCK) is False


if sys.platform == "win32":

    def _is_held(lock: Path) -> bool | None:
        from filelock import FileLock, Timeout  # noqa: PLC0415 - slow to import

        if not lock.exists():
            return None
        try:
            with FileLock(lock, timeout=0):
                return False
        except Timeout:
            return True

else:
    import fcntl

    def _is_held(lock: Path) -> bool | None:
        """Say it as the library that locks would, which every command would have to import."""
        try:
            descriptor = os.open(lock, os.O_RDWR)
        except OSError:
            return None
        try:
            # Shared, so that two who ask don't take each other for a companion.
            fcntl.flock(descriptor, fcntl.LOCK_SH | fcntl.LOCK_NB)
        except BlockingIOError:
            return True
        except OSError:
            return None
        else:
            return False
        finally:
            os.close(descriptor)
