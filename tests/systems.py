"""What holds on some systems only."""

import stat
import sys
from pathlib import Path

import pytest

needs_x11 = pytest.mark.skipif(sys.platform in ("win32", "darwin"), reason="keys come from an X screen")
needs_posix = pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such users, modes or zones")


def is_private(path: Path) -> bool:
    """Whether nobody but its owner can read a file or folder.

    Windows keeps no such mode; there a user's own folder is closed to other users, with all that is in it.
    """
    return sys.platform == "win32" or not stat.S_IMODE(path.stat().st_mode) & 0o077
