"""Serves the pages on the loopback address, from the running companion or alone."""

import json
import os
import secrets
import socket
import threading
import webbrowser
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime

import click
import uvicorn

from companion.clock import ComputerClock
from companion.errors import CompanionError
from companion.log.store import open_log
from companion.pages.app import pages
from companion.pages.desk import Desk
from companion.pages.guard import ENTER, Keys
from companion.pages.port import LessonPort, LogPort
from companion.paths import Home, private_folder

LOOPBACK = "127.0.0.1"
START_S = 10.0
LEAVE_S = 1
"""How long open streams may keep a server that ends."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where the pages were served last, so that open pages find them again after a restart."""

    port: int
    secret: bytes

    @classmethod
    def recall(cls, home: Home) -> "Place":
        """Return the place of the last run, or a new one."""
        try:
            kept = json.loads((home.run / "pages.json").read_text(encoding="utf-8"))
            return cls(int(kept["port"]), bytes.fromhex(kept["secret"]))
        except (OSError, ValueError, KeyError, TypeError):
            return cls(0, secrets.token_bytes(32))

    def keep(self, home: Home) -> None:
        """Write the place down for the next run, for this user only (0600)."""
        path = private_folder(home.run) / "pages.json"
        with suppress(OSError):
            handle = os.open(path, os.O_CREAT | os.O_WRONLY | os.O_TRUNC, 0o600)
            with os.fdopen(handle, "w", encoding="utf-8") as file:
                json.dump({"port": self.port, "secret": self.secret.hex()}, file)


class PageServer:
    """The pages, served from a thread of their own between `start` and `stop`."""

    def __init__(self, home: Home, port: LessonPort, clock: Callable[[], datetime]) -> None:
        place = Place.recall(home)
        self._socket = _bind(place.port)
        self.port: int = self._socket.getsockname()[1]
        Place(self.port, place.secret).keep(home)
        self._keys = Keys(place.secret)
        app = pages(Desk(home, port, self._keys, clock), self.port)
        config = uvicorn.Config(
            app,
            log_config=None,
            access_log=False,
            lifespan="off",
            server_header=False,
            timeout_graceful_shutdown=LEAVE_S,
        )
        self._server = uvicorn.Server(config)
        self._thread = threading.Thread(target=self._serve, name="pages", daemon=True)

    def start(self) -> "PageServer":
        """Serve; return when the pages answer."""
        self._thread.start()
        waited = threading.Event()
        for _ in range(round(START_S / 0.01)):
            if self._server.started:
                return self
            waited.wait(0.01)
        raise CompanionError("The pages could not be started.", remedy="Try again.")

    def stop(self) -> None:
        """End serving; open pages say that the companion is gone."""
        self._server.should_exit = True
        self._thread.join(START_S)
        self._socket.close()

    def wait(self) -> None:
        """Wait until the pages are no longer served."""
        while self._thread.is_alive():
            self._thread.join(0.5)

    def address(self, to: str = "/") -> str:
        """Return an address that opens the pages once, at the path `to`."""
        return f"http://{LOOPBACK}:{self.port}{ENTER}?token={self._keys.one_time_token()}&to={to}"

    def open(self, to: str = "/") -> bool:
        """Open the user's browser at `to`; return whether there was one."""
        return webbrowser.open(self.address(to))

    def _serve(self) -> None:
        self._server.run(sockets=[self._socket])


def _bind(port: int) -> socket.socket:
    """Return a socket on `port`, or on any free port where that one is taken."""
    for wanted in (port, 0):
        # The protocol is named, or asyncio would not turn off the delay of small packets.
        bound = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
        if os.name == "posix":
            bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        with suppress(OSError):
            bound.bind((LOOPBACK, wanted))
            return bound
        bound.close()
    raise CompanionError("No loopback address is free for the pages.", remedy="Restart the computer.")


def serve_log(home: Home, session_id: str | None = None, *, open_browser: bool) -> None:
    """Serve the pages over the log until Ctrl+C, beginning with the review of a session or the first page."""
    clock = ComputerClock().wall
    open_log(home.create().log).close()
    server = PageServer(home, LogPort(home.log, clock), clock).start()
    to = f"/review/{session_id}" if session_id else "/"
    try:
        if not (open_browser and server.open(to)):
            click.echo(f"Open once, in your own browser: {server.address(to)}")
        click.echo("The pages are open on this computer only. End with Ctrl+C.")
        with suppress(KeyboardInterrupt):
            server.wait()
    finally:
        server.stop()
