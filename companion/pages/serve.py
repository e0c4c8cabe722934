"""Serves the pages on the loopback address, from the running companion or alone."""

import html
import os
import socket
import threading
import webbrowser
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import click
import uvicorn

from companion.clock import ComputerClock
from companion.errors import CompanionError
from companion.language import _, spoken
from companion.log.store import open_log
from companion.pages.app import pages
from companion.pages.compiled import compiled_in
from companion.pages.connection import MOST_CONNECTIONS, BoundedConnection
from companion.pages.desk import Desk, take_templates
from companion.pages.guard import ENTER
from companion.pages.house import House, NoHouse
from companion.pages.keys import Doorway, Keys, opening_words, secret_of
from companion.pages.port import LessonPort, LogPort
from companion.paths import Home

LOOPBACK = "127.0.0.1"
START_S = 10.0
LEAVE_S = 2
"""How long open streams may keep a server that ends."""
OPENER = """<!doctype html><html lang="{language}"><meta charset="utf-8"><title>Lesson Companion</title>
<form method="post" action="{action}">{inputs}<button>{words}</button></form>
<script>document.forms[0].submit()</script></html>
"""


class PageServer:
    """The pages, served from a thread of their own between `start` and `stop`."""

    def __init__(
        self, home: Home, port: LessonPort, clock: Callable[[], datetime], house: House | None = None
    ) -> None:
        place = Doorway.recall(home, clock().date())
        self._socket = _bind(place.port)
        self.port: int = self._socket.getsockname()[1]
        if place.port not in (0, self.port):
            # Pages that are open ask at the old port, whoever has taken it: what they know is void.
            place = place.renewed(clock().date())
        with suppress(OSError):
            replace(place, port=self.port).keep(home)
        self._keys = Keys(secret_of(home, place.secret))
        self._file = home.run / "open.html"
        take_templates(compiled_in(home))
        self._desk = Desk(home, port, self._keys, clock, house=house or NoHouse())
        app = pages(self._desk, self.port)
        config = uvicorn.Config(
            app,
            log_config=None,
            access_log=False,
            lifespan="off",
            http=BoundedConnection,
            ws="none",
            backlog=MOST_CONNECTIONS,
            server_header=False,
            timeout_graceful_shutdown=LEAVE_S,
        )
        self._server = uvicorn.Server(config)
        self._thread = threading.Thread(target=self._serve, name="pages", daemon=True)
        # A thread whose `join` is interrupted by Ctrl+C counts as ended for Python 3.11, and is not.
        self._over = threading.Event()

    def start(self) -> "PageServer":
        """Serve; return when the pages answer."""
        self._thread.start()
        waited = threading.Event()
        for _attempt in range(round(START_S / 0.01)):
            if self._server.started:
                return self
            waited.wait(0.01)
        raise CompanionError(_("The pages could not be started."), remedy=_("Try again."))

    def stop(self) -> None:
        """End serving; open pages say that the companion is gone."""
        # Streams end by themselves then, and the server need not break them off.
        self._keys.close()
        self._server.should_exit = True
        self._desk.exercises.end()
        self._over.wait(START_S)
        self._socket.close()
        with suppress(OSError):
            self._file.unlink(missing_ok=True)

    def wait(self) -> None:
        """Wait until the pages are no longer served."""
        while not self._over.wait(0.5):
            pass

    @property
    def base(self) -> str:
        """The address under which every page lies; who knows it is let in."""
        return f"{self._origin}/{self._keys.door}/"

    def address(self, to: str = "/") -> str:
        """Return an address that opens the pages once, within a minute, at the path `to`."""
        return f"{self._origin}{ENTER}?token={self._keys.one_time_token()}&to={to}"

    def file(self, to: str = "/") -> Path:
        """Return a file of this user's that lets the browser in which opens it, once, within a minute.

        A browser's command line can be read by every user of the computer, such a file can't.

        Raises CompanionError if the disk does not take it.
        """
        fields = {"token": self._keys.one_time_token(), "to": to}
        inputs = "".join(
            f'<input type="hidden" name="{name}" value="{html.escape(value)}">'
            for name, value in fields.items()
        )
        action, words = f"{self._origin}{ENTER}", _("Open the companion's pages")
        page = OPENER.format(language=spoken(), action=action, inputs=inputs, words=words)
        try:
            self._file.unlink(missing_ok=True)
            opened = os.open(self._file, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
            with os.fdopen(opened, "w", encoding="utf-8") as file:
                file.write(page)
        except OSError as error:
            raise CompanionError(
                _("The file {file} can't be written ({strerror}).", file=self._file, strerror=error.strerror),
                remedy=_("Free the disk."),
            ) from error
        return self._file

    def open(self, to: str = "/") -> bool:
        """Open the user's browser at `to`; return whether there was one."""
        return webbrowser.open(self.file(to).as_uri())

    @property
    def _origin(self) -> str:
        return f"http://{LOOPBACK}:{self.port}"

    def _serve(self) -> None:
        try:
            self._server.run(sockets=[self._socket])
        finally:
            self._over.set()


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
    raise CompanionError(_("No loopback address is free for the pages."), remedy=_("Restart the computer."))


def serve_log(
    home: Home, session_id: str | None = None, *, open_browser: bool, house: House | None = None
) -> None:
    """Serve the pages over the log until Ctrl+C, beginning with the review of a session or the first page."""
    clock = ComputerClock().wall
    open_log(home.create().log).close()
    server = PageServer(home, LogPort(home.log, clock), clock, house).start()
    to = f"/review/{session_id}" if session_id else "/"
    try:
        if open_browser:
            server.open(to)
        click.echo(opening_words(server.address(to), opened=open_browser))
        click.echo(_("The pages are open on this computer only. End with Ctrl+C."))
        with suppress(KeyboardInterrupt):
            server.wait()
    finally:
        server.stop()
