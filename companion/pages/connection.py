"""One connection of a browser to the pages, with an end to every wait.

The web server itself waits as long as it takes for a request; whoever opens connections and says nothing, or
says it one letter at a time, would use up the descriptors that microphone, log and pages need.
"""

import asyncio

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

REQUEST_S = 6.0
"""Longest time from the opening of a connection, or from the last answer, to the end of a request."""
LOOK_S = 1.0
LIVELY_BYTES = 1_000_000
"""Who sends so much between two looks is not slow: a speech model takes longer than a form."""
MOST_CONNECTIONS = 32
"""A browser holds six to one address at most; beyond this the one that owes its request longest is closed.

In one turn of the loop as many again may be accepted and as many not be closed yet: three times as many
descriptors, which have to fit into the 256 of a Mac beside those of microphone and log.
"""


class BoundedConnection(H11Protocol):
    """A connection that is closed when it owes a request for too long, or when there are too many."""

    _owing_since_s: float | None = None
    _received = 0
    """Bytes since the last look."""

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Make room for the newcomer, and begin to watch it."""
        others = [one for one in self.connections if isinstance(one, BoundedConnection)]
        super().connection_made(transport)
        self._owing_since_s = self.loop.time()
        if len(others) >= MOST_CONNECTIONS:
            owing = [one for one in others if one._owing_since_s is not None] or [self]  # noqa: SLF001
            min(owing, key=lambda one: one._owing_since_s or 0.0).cut()  # noqa: SLF001
        self.loop.call_later(LOOK_S, self._look)

    def data_received(self, data: bytes) -> None:
        """Take bytes, and count them."""
        self._received += len(data)
        super().data_received(data)

    def cut(self) -> None:
        """Close the connection at once."""
        self.connections.discard(self)
        self.transport.abort()

    def _look(self) -> None:
        if self.transport.is_closing():
            return
        now_s = self.loop.time()
        if self.conn.their_state in (h11.IDLE, h11.SEND_BODY):
            lively, self._received = self._received >= LIVELY_BYTES, 0
            self._owing_since_s = now_s if lively else self._owing_since_s or now_s
            if now_s - self._owing_since_s >= REQUEST_S:
                self.cut()
                return
        else:
            self._owing_since_s = None
        self.loop.call_later(LOOK_S, self._look)
