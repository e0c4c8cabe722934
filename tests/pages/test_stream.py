"""Streams of changes."""

import asyncio
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from pathlib import Path

import httpx
import pytest

from companion.lesson.command import Action, Command
from companion.lesson.mark import Source
from companion.lesson.opening import Opening
from companion.live.live import Live
from companion.live.pages_port import LivePort
from companion.log.store import open_log
from companion.pages import stream
from companion.pages.desk import Desk
from companion.pages.keys import Keys
from companion.pages.live import newest_in
from companion.pages.port import LogPort
from companion.pages.serve import PageServer
from companion.paths import Home
from tests.school_day import settings


def test_pages_that_end_end_their_streams_without_a_word(
    home: Home, server: PageServer, caplog: pytest.LogCaptureFixture
) -> None:
    """Whoever ended them in a terminal sees no trace of the pages that are still open in a browser."""
    open_log(home.log).close()
    streams = [httpx.stream("GET", f"{server.base}{path}") for path in ("stream", "setup/try/stream")]
    with ExitStack() as opened, ThreadPoolExecutor(2) as readers:
        answers = [opened.enter_context(one) for one in streams]
        assert [answer.status_code for answer in answers] == [200, 200]
        read = [readers.submit(answer.read) for answer in answers]
        server.stop()
        assert all(b"data: " in one.result(60) for one in read)
    assert [record for record in caplog.records if record.name.startswith("uvicorn")] == []


def test_a_page_follows_the_companions_own_announcements(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A mark is told at once, long before anybody would look; a page that is closed is let go."""
    monkeypatch.setattr(stream, "LOOK_FOR_OTHERS_S", 3600.0)
    live = Live(Home(tmp_path).create().log, settings())
    live.start()
    session = live.open(Opening("4-Hazel"), Source.PAGE).result().id
    port = LivePort(live, lambda: None, LogPort(tmp_path / "sessions.db", live.clock.wall))
    desk = Desk(Home(tmp_path), port, Keys(lambda: b"secret"), live.clock.wall)

    async def told() -> tuple[str, str]:
        stamps = stream._stamps(desk, newest_in(session), str)
        first = await anext(stamps)
        live.ask(Command(Action.PRAISE), Source.KEY)
        second = await asyncio.wait_for(anext(stamps), 60)
        await stamps.aclose()  # type: ignore[attr-defined]
        return first, second

    # A browser that other tests have started keeps a loop running in this thread.
    with ThreadPoolExecutor(1) as thread:
        assert thread.submit(asyncio.run, told()).result() == ("data: 2\n\n", "data: 3\n\n")
    assert live._announcer._subscribers == []
    live.stop()
