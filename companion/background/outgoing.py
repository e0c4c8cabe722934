"""Whether a process of the companion reaches out of this computer: its connections, looked at many times."""

import sys
import threading
from ipaddress import ip_address
from types import TracebackType

import psutil

from companion.language import later

EVERY_S = 0.02
"""A look-up of a name that nobody answers stays open for seconds, one that is answered for some 20 ms."""
NAME_SERVICE_PORT = 53
"""A look-up of a name may go through a service on this computer, and leaves it from there."""

LOOKED_AT = later("TCP connections") if sys.platform == "win32" else later("connections")
"""Windows does not say where a UDP socket is connected to, and looks names up by a service of its own."""


class OutgoingWatch:
    """Looks at this process and all its children between entering and leaving, in a thread of its own.

    A short version of what the tests watch from outside: it can miss what lasts less than `EVERY_S`.
    """

    def __init__(self) -> None:
        self.looks = 0
        self.reached: set[str] = set()
        """Each address beyond this computer, or of its name service, with its port."""
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._look_on, name="outgoing", daemon=True)

    def __enter__(self) -> "OutgoingWatch":
        self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._ended.set()
        self._thread.join()

    def _look_on(self) -> None:
        own = psutil.Process()
        while True:
            for process in (own, *own.children(recursive=True)):
                self.reached |= reached_by(process)
            self.looks += 1
            if self._ended.wait(EVERY_S):
                return


def reached_by(process: psutil.Process) -> set[str]:
    """Return what a process of this user is connected to beyond this computer; nothing if it has ended."""
    try:
        connections = process.net_connections("inet")
    except psutil.Error:
        return set()
    remote = [connection.raddr for connection in connections if connection.raddr]
    return {
        f"{address.ip}:{address.port}"
        for address in remote
        if address.port == NAME_SERVICE_PORT or not ip_address(address.ip).is_loopback
    }
