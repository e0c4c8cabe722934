"""Connections that have not proved yet that they know the key: few, and not for long."""

import socket
import sys
import threading
import time
from contextlib import suppress

PROOF_S = 5.0
"""Longest time from the connection to the whole request."""
MOST_STRANGERS = 24
"""More than this many at once are not the user's own commands: the one that waits longest is cut."""


class Strangers:
    """Keeps a handle on each stranger, so that its wait can be ended from another thread."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._since: dict[socket.socket, float] = {}
        self._knocked: set[socket.socket] = set()

    def add(self, connection: socket.socket, *, knocked: bool = False) -> socket.socket:
        """Watch a new connection and return its handle, which `known` takes; where there are too many,
        the oldest is cut that has not knocked as the user's own commands do.

        Raises OSError if the system has no descriptor left.
        """
        end_by_itself(connection, PROOF_S)
        handle = connection.dup()
        with self._lock:
            if knocked:
                self._knocked.add(handle)
            elif len(self._since) - len(self._knocked) >= MOST_STRANGERS:
                oldest = next(one for one in self._since if one not in self._knocked)
                del self._since[oldest]
                _cut(oldest)
            self._since[handle] = time.monotonic()
        return handle

    def known(self, handle: socket.socket) -> None:
        """Watch a connection no longer: it has proved who it is, or has ended."""
        with self._lock:
            self._since.pop(handle, None)
            self._knocked.discard(handle)
            handle.close()

    def cut_late(self, *, everyone: bool = False) -> None:
        """Cut those whose time is over, or everyone where descriptors run out."""
        over_s = time.monotonic() - PROOF_S
        with self._lock:
            for handle, since_s in self._since.items():
                if everyone or since_s < over_s:
                    _cut(handle)


def end_by_itself(connection: socket.socket, limit_s: float) -> None:
    """Let no wait for words on `connection` be longer than `limit_s` on Windows.

    There a shutdown ends the next wait, but not one that has begun.
    """
    if sys.platform == "win32":
        connection.setsockopt(socket.SOL_SOCKET, socket.SO_RCVTIMEO, round(limit_s * 1000))


def _cut(handle: socket.socket) -> None:
    """End the wait of the thread that reads; that thread closes the connection."""
    with suppress(OSError):
        handle.shutdown(socket.SHUT_RDWR)
