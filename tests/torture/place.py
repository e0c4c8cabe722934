"""Where a tortured home lies: on the usual disk, or on a small one of its own that can be filled."""

import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

SIZE_MB = 24
CHUNK = 64 * 1024


@dataclass(frozen=True, slots=True)
class Place:
    """A folder, and whether its disk may be filled."""

    folder: Path
    beside: Path
    """A folder elsewhere, which is never full."""
    small: bool = False

    @contextmanager
    def full(self) -> Iterator[None]:
        """Fill the disk to its last byte during the block."""
        ballast = self.folder / "ballast"
        with suppress(OSError), ballast.open("wb", buffering=0) as file:
            while file.write(bytes(CHUNK)):
                pass
        with suppress(OSError), ballast.open("ab", buffering=0) as file:
            while file.write(b"x"):
                pass
        try:
            yield
        finally:
            ballast.unlink()


@contextmanager
def open_place(kind: str | None) -> Iterator[Place]:
    """Lend a place: on "tmpfs" or a "loop" device, which only root can mount, or in the folder `kind`.

    Raises CalledProcessError where this may not be mounted.
    """
    folder = kind if kind not in {"tmpfs", "loop"} else None
    with tempfile.TemporaryDirectory(dir=folder, prefix="torture-") as name:
        disk, target, beside = (Path(name) / part for part in ("disk", "place", "beside"))
        target.mkdir()
        beside.mkdir()
        if kind not in {"tmpfs", "loop"}:
            yield Place(target, beside)
            return
        if kind == "tmpfs":
            _run("mount", "-t", "tmpfs", "-o", f"size={SIZE_MB}m", "torture", str(target))
        else:
            with disk.open("wb") as file:
                file.truncate(SIZE_MB * 1024 * 1024)
            # As larger disks have it. With smaller blocks than a page of memory a full disk has no room for
            # what SQLite has mapped of its shared memory, and the system ends the process (SIGBUS).
            _run("mkfs.ext4", "-q", "-m", "0", "-b", "4096", str(disk))
            _run("mount", "-o", "loop", str(disk), str(target))
        try:
            yield Place(target, beside, small=True)
        finally:
            _run("umount", "--lazy", str(target))


def _run(*command: str) -> None:
    subprocess.run(command, check=True)
