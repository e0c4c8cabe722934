"""What one connection may take, on a socket."""

import re
import socket
import time

import httpx
import pytest

from companion.pages import connection
from companion.pages.serve import PageServer

PIECES, PAUSE_S = 30, 0.1


def send_picture(server: PageServer, piece: bytes) -> bytes:
    """Send a form with a picture piece by piece, with pauses; return the answer, empty where none came."""
    with httpx.Client(base_url=server.base) as client:
        page = client.get("pictures")
        token = re.search(r"[?&]page=([\w-]+)", page.text)
    assert token
    address = httpx.URL(server.base)
    host = f"{address.host}:{address.port}"
    head = (
        f"POST {address.path.rstrip('/')}/pictures?page={token[1]} HTTP/1.1\r\nHost: {host}\r\n"
        f"Origin: http://{host}\r\nSec-Fetch-Site: same-origin\r\n"
        f"Content-Type: multipart/form-data; boundary=x\r\nContent-Length: {PIECES * len(piece)}\r\n\r\n"
    )
    try:
        with socket.create_connection((address.host, address.port), timeout=20) as sending:
            sending.sendall(head.encode())
            for _ in range(PIECES):
                sending.sendall(piece)
                time.sleep(PAUSE_S)
            return sending.recv(100)
    except ConnectionError:
        return b""


def test_a_long_file_has_its_time_and_a_slow_one_has_not(
    server: PageServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file that comes at a good pace may take longer than a request may be waited for."""
    monkeypatch.setattr(connection, "REQUEST_S", PIECES * PAUSE_S / 2)
    monkeypatch.setattr(connection, "LOOK_S", 4 * PAUSE_S)
    monkeypatch.setattr(connection, "LIVELY_BYTES", 1_000)
    assert send_picture(server, bytes(1_000)).startswith(b"HTTP/1.1 ")
    assert send_picture(server, b"x") == b""
