"""What can go wrong beneath the companion, turned on and off from here: `faults.c` does it in its process."""

import mmap
import struct
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from enum import IntEnum
from pathlib import Path

SOURCE = Path(__file__).with_name("faults.c")
FAULT, CLOCK, WRITING = struct.Struct("=ii"), struct.Struct("=q"), struct.Struct("=ii")
WRITING_AT = FAULT.size + CLOCK.size


class Fault(IntEnum):
    """What is wrong with the disk; the numbers are those of `faults.c`."""

    NONE = 0
    FULL = 1
    WRITE_ERROR = 2
    SYNC_ERROR = 3
    READ_ERROR = 4
    SLOW = 5


class Faults:
    """The library, compiled, and its switch."""

    def __init__(self, folder: Path, home: Path) -> None:
        """Compile it into `folder`; faults of the disk are felt beneath `home` only."""
        self._library, switch = folder / "faults.so", folder / "faults"
        command = ["gcc", "-shared", "-fPIC", "-O2", "-Wall", "-Werror", "-o", str(self._library)]
        subprocess.run([*command, str(SOURCE), "-ldl"], check=True)
        switch.write_bytes(bytes(WRITING_AT + WRITING.size))
        with switch.open("r+b") as file:
            self._switch = mmap.mmap(file.fileno(), 0)
        self.environment = {
            "LD_PRELOAD": str(self._library),
            "TORTURE_FAULTS": str(switch),
            "TORTURE_HOME": f"{home.resolve()}/",
        }
        """What a process needs that is to feel them."""

    @property
    def hits(self) -> int:
        """How often a fault was felt."""
        return int(FAULT.unpack_from(self._switch)[1])

    @property
    def unsynced(self) -> bool:
        """Whether something was written into the log that was not synced since."""
        return bool(WRITING.unpack_from(self._switch, WRITING_AT)[1])

    def kill_at(self, step: int) -> None:
        """End the process in so many steps of writing the log, a write or the sync of writes; 0: in none.

        Nothing counts as written before.
        """
        WRITING.pack_into(self._switch, WRITING_AT, step, 0)

    @contextmanager
    def during(self, fault: Fault) -> Iterator[None]:
        """Let `fault` be felt during the block."""
        FAULT.pack_into(self._switch, 0, fault, self.hits)
        try:
            yield
        finally:
            FAULT.pack_into(self._switch, 0, Fault.NONE, self.hits)

    def set_clock(self, ahead: timedelta) -> None:
        """Let the wall clock go so much ahead of the true time; steady clocks don't feel it."""
        CLOCK.pack_into(self._switch, FAULT.size, round(ahead.total_seconds() * 1e9))
