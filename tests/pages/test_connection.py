"""What one connection may take, on a socket."""

import re
import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager

import httpx
import pytest

from companion.pages import connection
from companion.pages.connection import LIVELY_BYTES, BoundedConnection
from companion.pages.serve import PageServer
from tests.waiting import until

FIELD = b'--x\r\nContent-Disposition: form-data; name="item"\r\n\r\n'


@contextmanager
def sending_form(server: PageServer) -> Iterator[tuple[socket.socket, BoundedConnection]]:
    """Begin to send a form with a field of `LIVELY_BYTES` and one; give the socket and the connection that
    the pages have of it.
    """
    with httpx.Client(base_url=server.base) as client:
        token = re.search(r"[?&]page=([\w-]+)", client.get("pictures").text)
    assert token
    address = httpx.URL(server.base)
    host = f"{address.host}:{address.port}"
    head = (
        f"POST {address.path.rstrip('/')}/pictures?page={token[1]} HTTP/1.1\r\nHost: {host}\r\n"
        f"Origin: http://{host}\r\nSec-Fetch-Site: same-origin\r\n"
        "Content-Type: multipart/form-data; boundary=x\r\n"
        f"Content-Length: {len(FIELD) + LIVELY_BYTES + 1}\r\n\r\n"
    )
    connections = server._server.server_state.connections
    assert until(lambda: not connections)
    with socket.create_connection((address.host, address.port), timeout=60) as sending:
        sending.sendall(head.encode() + FIELD)
        assert until(lambda: len(connections) == 1)
        taken = next(iter(connections))
        assert isinstance(taken, BoundedConnection)
        yield sending, taken


def look_after_an_hour(taken: BoundedConnection) -> None:
    """Let the connection be looked at as if its request had been owed for an hour."""
    done = threading.Event()

    def look() -> None:
        taken._owing_since_s = taken.loop.time() - 3600
        taken._look()
        done.set()

    taken.loop.call_soon_threadsafe(look)
    assert done.wait(60)


def test_a_long_file_has_its_time_and_a_slow_one_has_not(
    server: PageServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file that comes at a good pace may take longer than a request may be waited for."""
    # No look but the test's own.
    monkeypatch.setattr(connection, "LOOK_S", 3600)
    with sending_form(server) as (sending, taken):
        sending.sendall(bytes(LIVELY_BYTES))
        assert until(lambda: taken._received >= LIVELY_BYTES)
        look_after_an_hour(taken)
        sending.sendall(b"x")
        assert sending.recv(100).startswith(b"HTTP/1.1 ")
    with sending_form(server) as (sending, taken):
        sending.sendall(b"x")
        look_after_an_hour(taken)
        try:
            answer = sending.recv(100)
        except ConnectionError:
            answer = b""
        assert answer == b""
