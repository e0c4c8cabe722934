"""Every parser of the program, with what it is given here, and the one way in which it may refuse it.

Each is a function that takes what hypothesis makes up. It returns, or raises CompanionError; whatever else
it raises is a defect.
"""

import asyncio
import io
import json
import socket
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import AbstractContextManager, contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC
from multiprocessing.connection import Client
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import httpx
import numpy as np
import soundfile
from hypothesis import strategies as st
from starlette.routing import Route
from ulid import ULID

from companion.background.control import ControlServer, ask
from companion.background.requests import Requests
from companion.clock import ComputerClock
from companion.errors import CompanionError
from companion.lesson.event import BODIES
from companion.listening.microphone.files import blocks, duration_s
from companion.live.live import Live
from companion.log.codec import event_of
from companion.log.damage import damages
from companion.log.exchange import merge
from companion.log.salvage import salvage
from companion.log.store import open_log
from companion.pages.app import ROUTES, pages
from companion.pages.desk import Desk
from companion.pages.keys import Keys
from companion.pages.port import LogPort
from companion.paths import Home
from companion.settings.file import edit
from companion.settings.settings import parse_settings
from tests.fuzz import kept
from tests.fuzz.made_up import JSON, TEXT, spliced, touched
from tests.pages.lessons import BODIES as LESSON
from tests.pages.lessons import write_lesson
from tests.school_day import SETTINGS, TIMETABLE, settings

Take = Callable[[Any], object]
Ready = AbstractContextManager[Take]


@dataclass(frozen=True, slots=True)
class Parser:
    """One parser with what it is given."""

    given: st.SearchStrategy[Any]
    make: Callable[[Path], Ready]
    """A context manager that makes ready, in a folder of its own, and lends the function."""
    costs: int = 1
    """How many times fewer cases it is given, since each takes longer."""


@contextmanager
def _plain(function: Take) -> Iterator[Take]:
    yield function


def _settings(_: Path) -> Ready:
    return _plain(lambda text: parse_settings(text, "companion.toml"))


def _settings_file(folder: Path) -> Ready:
    def change(text: bytes) -> None:
        (folder / "companion.toml").write_bytes(text)
        edit(folder / "companion.toml", lambda document: document.setdefault("school", {}))

    return _plain(change)


def _event_row(_: Path) -> Ready:
    return _plain(event_of)


@contextmanager
def _logs(folder: Path) -> Iterator[Take]:
    """Take up another computer's log, look at it, and save what can be saved of it."""
    with open_log(folder / "home" / "sessions.db") as mine:

        def take(content: bytes) -> None:
            other = folder / "other.db"
            other.write_bytes(content)
            damages(other)
            with suppress(CompanionError):
                merge(mine, other)
            salvage(other, mine)
            assert not damages(mine.path)

        yield take


@contextmanager
def _requests(folder: Path) -> Iterator[Take]:
    """Ask the pages for any path and query, and send any form to any page."""
    home = Home(folder / "home").create()
    clock = ComputerClock().wall
    session = write_lesson(home.log, *LESSON).id
    home.settings.write_text(SETTINGS, encoding="utf-8")
    keys = Keys(lambda: b"s" * 32)
    app = pages(Desk(home, LogPort(home.log, clock), keys, clock), 1)
    client = httpx.AsyncClient(
        transport=httpx.ASGITransport(app), base_url=f"http://127.0.0.1:1/{keys.door}/", trust_env=False
    )
    # A browser that other tests of this process have started keeps a loop running in this thread.
    loop, thread = asyncio.new_event_loop(), ThreadPoolExecutor(1)

    def send(wanted: dict[str, Any]) -> None:
        path = wanted["path"].replace("{session}", session).replace("{item}", "m3").lstrip("/")
        if "stream" in path:
            return
        if wanted["post"]:
            form = {"request": str(ULID()), "item": "m3", **wanted["fields"]}
            answer = client.post(
                path, params={"page": keys.page_token}, data=form, headers={"Sec-Fetch-Site": "same-origin"}
            )
        else:
            answer = client.get(path, params=wanted["fields"])
        status = thread.submit(loop.run_until_complete, answer).result().status_code
        assert status < 500, (status, wanted)

    try:
        yield send
    finally:
        thread.submit(loop.run_until_complete, client.aclose()).result()
        thread.shutdown()
        loop.close()


@contextmanager
def _control(folder: Path) -> Iterator[Take]:
    """Send any message to the running companion's control line, and any bytes that are none."""
    live = Live(folder / "home" / "sessions.db", settings())
    live.start()
    requests = Requests(live, None, None, None, Home(folder / "home"))  # type: ignore[arg-type]
    server = ControlServer(folder / "control.json", lambda message: _answered(requests, message))
    place = json.loads((folder / "control.json").read_text())
    address = ("127.0.0.1", place["port"])

    def send(message: object) -> None:
        if isinstance(message, bytes):
            with socket.create_connection(address) as connection, suppress(OSError):
                connection.sendall(message)
            return
        if not isinstance(message, dict):
            with Client(address, authkey=bytes.fromhex(place["key"])) as known, suppress(EOFError, OSError):
                known.send_bytes(json.dumps(message).encode())
                known.recv_bytes()
            return
        said = ""
        try:
            ask(folder / "control.json", message)
        except CompanionError as error:
            said = error.what
        assert "could not do that" not in said, message

    try:
        yield send
    finally:
        server.close()
        live.stop()


def _answered(requests: Requests, message: dict[str, Any]) -> dict[str, Any]:
    # Neither keys, pages nor the program's own end are behind it here.
    if str(message.get("do")) in {"status", "pages", "stop"}:
        return {}
    return requests.answer(message)


@contextmanager
def _sound(folder: Path) -> Iterator[Take]:
    def read(content: bytes) -> None:
        path = folder / "sound.wav"
        path.write_bytes(content)
        duration_s(path)
        for block in blocks(path, warn=lambda _: None):
            assert block.dtype == np.int16

    yield read


def _log_bytes() -> bytes:
    with TemporaryDirectory() as name:
        path = Path(name) / "home" / "sessions.db"
        write_lesson(path, *LESSON)
        return path.read_bytes()


def _wave_bytes(kind: str) -> bytes:
    whole = io.BytesIO()
    soundfile.write(whole, np.zeros(1600, np.int16), 16_000, format=kind)
    return whole.getvalue()


HEADER = 64
"""Bytes in which each kind of sound file says what it holds."""
KINDS = [_wave_bytes(kind) for kind in ("WAV", "FLAC", "OGG", "AIFF", "MP3")]
SOUND = st.binary(max_size=200) | st.sampled_from(KINDS).flatmap(
    lambda whole: (
        spliced(whole) | touched(whole) | touched(whole[:HEADER]).map(lambda head: head + whole[HEADER:])
    )
)


ROW = st.fixed_dictionaries(
    {
        "id": TEXT,
        "session": TEXT,
        "seq": st.integers(),
        "at": TEXT | st.datetimes(timezones=st.just(UTC)).map(str),
        "offset_ms": st.integers(),
        "kind": st.sampled_from(sorted(BODIES)) | TEXT,
        "version": st.integers(0, 3),
        "body": JSON.map(json.dumps) | TEXT,
        "batch": TEXT,
    }
)
ACTS = st.sampled_from(
    [
        "praise",
        "undo",
        "close",
        "said",
        "keep",
        "drop",
        "add",
        "rate",
        "view",
        "carry-over",
        "overrule",
        "open",
        "complete",
    ]
)
FIELDS = st.sampled_from(
    ["text", "kind", "phase", "level", "reason", "child", "hands-0", "weeks", "class_group"]
)
PATHS = st.sampled_from([route.path for route in ROUTES if isinstance(route, Route)])
REQUEST = st.fixed_dictionaries(
    {
        "post": st.booleans(),
        "path": st.sampled_from([route.path for route in ROUTES if isinstance(route, Route)])
        | st.text("abc/.%?#é0", max_size=20),
        "fields": st.fixed_dictionaries({"do": ACTS | TEXT}).flatmap(
            lambda do: st.dictionaries(
                st.sampled_from(
                    ["text", "kind", "phase", "level", "reason", "child", "hands-0", "weeks", "class_group"]
                )
                | TEXT,
                TEXT,
                max_size=5,
            ).map(lambda more: {**more, **do})
        ),
    }
)
DOES = st.sampled_from(["open", "close", "name", "command", "undo", "review"]) | TEXT
MESSAGE = JSON | st.builds(
    lambda do, more: {"do": do, **more},
    DOES,
    st.dictionaries(
        st.sampled_from(
            ["class_group", "plan", "room", "session", "action", "phase", "scope", "note", "request"]
        ),
        JSON,
    ),
)

PARSERS: dict[str, Parser] = {
    "settings": Parser(
        TEXT | spliced((SETTINGS + TIMETABLE).encode()).map(lambda one: one.decode("utf-8", "replace")),
        _settings,
    ),
    "settings file": Parser(st.binary(max_size=80) | spliced(SETTINGS.encode()), _settings_file),
    "event bodies": Parser(ROW, _event_row),
    "merge and salvage": Parser(
        st.deferred(lambda: spliced(_log_bytes())) | st.binary(max_size=300), _logs, 20
    ),
    "forms and queries": Parser(REQUEST, _requests, 2),
    "control messages": Parser(MESSAGE | st.binary(max_size=200), _control, 2),
    "audio headers": Parser(SOUND, _sound),
    "kept files": Parser(kept.GIVEN, kept.reading),
}
