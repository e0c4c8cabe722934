"""Connections of another program that say nothing, or say it slowly."""

import selectors
import socket
import struct
import time
from contextlib import suppress
from dataclasses import dataclass, field

LOOPBACK = "127.0.0.1"
HALF_HEAD = b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Slow: "
HALF_FORM = (
    b"POST /enter HTTP/1.1\r\nHost: 127.0.0.1:%d\r\nContent-Type: application/x-www-form-urlencoded\r\n"
    b"Content-Length: 900\r\n\r\ntoken="
)
HALF_BODY = b"POST / HTTP/1.1\r\nHost: 127.0.0.1:%d\r\nContent-Length: 900000\r\n\r\na"
SLOW = (b"", HALF_HEAD, HALF_FORM, HALF_BODY)
"""What a slow connection says to the pages, and then nothing more."""


def in_line(listener: socket.socket) -> tuple[int, int]:
    """Return how many connections wait to be taken, and how many may: Linux tells of a listener so."""
    told = listener.getsockopt(socket.IPPROTO_TCP, socket.TCP_INFO, 104)
    waiting, most = struct.unpack_from("=II", told, 24)
    return waiting, most


@dataclass(slots=True)
class Siege:
    """Connections that say little and wait; each is opened again once it was closed, or never."""

    port: int
    words: tuple[bytes, ...]
    lived_s: list[float] = field(default_factory=list)
    """How long each of those lived that were closed from the other side."""
    _open: dict[socket.socket, float] = field(default_factory=dict)
    _selector: selectors.BaseSelector = field(default_factory=selectors.DefaultSelector)
    _opened: int = 0

    def fill(self, at_once: int) -> None:
        """Open connections until there are `at_once`; one that is refused is left out this time."""
        for _ in range(at_once - len(self._open)):
            with suppress(OSError):
                one = socket.create_connection((LOOPBACK, self.port), timeout=60)
                self._open[one] = time.monotonic()
                self._selector.register(one, selectors.EVENT_READ)
                words = self.words[self._opened % len(self.words)]
                self._opened += 1
                one.sendall(words.replace(b"%d", b"%d" % self.port))
                one.setblocking(False)
            self.look(0)

    def look(self, wait_s: float) -> None:
        """Take note of those that were closed, waiting so long for one of them."""
        for key, _ in self._selector.select(wait_s):
            one = key.fileobj
            assert isinstance(one, socket.socket)
            with suppress(BlockingIOError):
                with suppress(ConnectionError):
                    while one.recv(65536):
                        pass
                self.lived_s.append(time.monotonic() - self._open.pop(one))
                self._selector.unregister(one)
                one.close()

    @property
    def left(self) -> int:
        """How many are open."""
        return len(self._open)

    def close(self) -> None:
        """Give up."""
        for one in self._open:
            one.close()
        self._selector.close()
