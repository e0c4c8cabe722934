"""A local server that does to a download what bad lines and bad mirrors do."""

import ssl
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import trustme


@dataclass
class Behaviour:
    """What the server serves, and how it misbehaves."""

    content: bytes
    break_after: list[int] = field(default_factory=list)
    """One entry an answer: how many bytes are sent before the line breaks; later answers are whole."""
    stop_at: int | None = None
    """How many bytes of each answer are sent before the server waits for `go_on`."""
    go_on: threading.Event = field(default_factory=threading.Event)
    stated_length: int | None = None
    """A Content-Length that is a lie."""
    etag: str = '"one"'
    ignore_range: bool = False
    chunked_without_end: bool = False
    status: int = 200
    location: str | None = None
    asked: list[str | None] = field(default_factory=list)
    """The Range header of every request so far."""


def certificate(authority: trustme.CA) -> ssl.SSLContext:
    """Return what shows that the server is who it says, to those who trust `authority`."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    authority.issue_cert("127.0.0.1").configure_cert(context)
    return context


@contextmanager
def serving(behaviour: Behaviour, certificate: ssl.SSLContext | None = None) -> Iterator[str]:
    """Serve on 127.0.0.1 and give the address of the one file."""

    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def do_GET(self) -> None:
            _answer(self, behaviour)

        def log_message(self, *_: object) -> None:
            pass

    with ThreadingHTTPServer(("127.0.0.1", 0), Handler) as server:
        if certificate:
            server.socket = certificate.wrap_socket(server.socket, server_side=True)
        server.handle_error = lambda *_: None  # type: ignore[method-assign]
        thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True)
        thread.start()
        scheme = "https" if certificate else "http"
        try:
            yield f"{scheme}://127.0.0.1:{server.server_port}/a-model.zip"
        finally:
            server.shutdown()
            thread.join()


def _answer(handler: BaseHTTPRequestHandler, behaviour: Behaviour) -> None:
    asked = handler.headers.get("Range")
    behaviour.asked.append(asked)
    handler.close_connection = True
    if behaviour.location or behaviour.status != 200:
        handler.send_response(302 if behaviour.location else behaviour.status)
        if behaviour.location:
            handler.send_header("Location", behaviour.location)
        handler.send_header("Content-Length", "0")
        handler.end_headers()
        return
    resumed = bool(asked) and not behaviour.ignore_range and handler.headers.get("If-Range") == behaviour.etag
    begin = int(asked.removeprefix("bytes=").removesuffix("-")) if asked and resumed else 0
    body = behaviour.content[begin:]
    handler.send_response(206 if resumed else 200)
    handler.send_header("ETag", behaviour.etag)
    if resumed:
        handler.send_header(
            "Content-Range", f"bytes {begin}-{len(behaviour.content) - 1}/{len(behaviour.content)}"
        )
    if behaviour.chunked_without_end:
        handler.send_header("Connection", "close")
    else:
        stated = behaviour.stated_length if behaviour.stated_length is not None else len(body)
        handler.send_header("Content-Length", str(stated))
    handler.end_headers()
    body = body[: behaviour.break_after.pop(0)] if behaviour.break_after else body
    if behaviour.stop_at is not None:
        handler.wfile.write(body[: behaviour.stop_at])
        handler.wfile.flush()
        behaviour.go_on.wait(60)
        body = body[behaviour.stop_at :]
    handler.wfile.write(body)
