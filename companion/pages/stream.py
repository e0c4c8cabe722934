"""Streams of changes: a page is told, by server-sent events, when it has something new to show."""

import asyncio
import sqlite3
from collections.abc import AsyncIterator, Callable
from contextlib import closing, suppress
from typing import TypeVar

from starlette.responses import Response, StreamingResponse

from companion.pages.desk import Desk
from companion.paths import sqlite_uri

LOOK_S = 0.15
"""How often a stream looks for news where nobody announces any."""
LOOK_FOR_OTHERS_S = 1.0
"""How often it looks where the companion announces its own: another program, or the hour, may bring some."""
SIGN_OF_LIFE_S = 10.0

T = TypeVar("T")


def streamed(desk: Desk, read: Callable[[sqlite3.Connection], T], stamp_of: Callable[[T], str]) -> Response:
    """Return the stream of a page's stamps.

    read: what the log says, asked for whenever any program has written into it. stamp_of: the stamp for
    that, asked for at every look; both must be quick.
    """
    headers = {"Cache-Control": "no-store", "X-Accel-Buffering": "no"}
    return StreamingResponse(_stamps(desk, read, stamp_of), media_type="text/event-stream", headers=headers)


async def _stamps(
    desk: Desk, read: Callable[[sqlite3.Connection], T], stamp_of: Callable[[T], str]
) -> AsyncIterator[str]:
    """Yield the stamps. SQLite says cheaply whether any program has written since."""
    told, silent_s = "", 0.0
    news, loop = asyncio.Event(), asyncio.get_running_loop()

    def announced() -> None:
        # The pages may have ended meanwhile.
        with suppress(RuntimeError):
            loop.call_soon_threadsafe(news.set)

    end = desk.port.subscribe(announced)
    look_s = LOOK_S if end is None else LOOK_FOR_OTHERS_S
    try:
        with closing(sqlite3.connect(sqlite_uri(desk.home.log.resolve(), "ro"), uri=True)) as db:
            version = _version(db)
            found, door = read(db), desk.keys.door
            # A page whose door was closed hears nothing more, and says that it has lost the companion.
            while desk.keys.opens(door):
                if version != (newer := _version(db)):
                    version, found = newer, read(db)
                now = stamp_of(found)
                if now != told or silent_s >= SIGN_OF_LIFE_S:
                    told, silent_s = now, 0.0
                    yield f"data: {now}\n\n"
                began_s = loop.time()
                with suppress(TimeoutError):
                    await asyncio.wait_for(news.wait(), look_s)
                news.clear()
                silent_s += loop.time() - began_s
    finally:
        if end is not None:
            end()


def _version(db: sqlite3.Connection) -> int:
    version: int = db.execute("PRAGMA data_version").fetchone()[0]
    return version
