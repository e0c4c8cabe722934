"""Streams of changes."""

import asyncio
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from companion.lesson.command import Action, Command
from companion.lesson.mark import Source
from companion.lesson.opening import Opening
from companion.live.live import Live
from companion.live.pages_port import LivePort
from companion.pages import stream
from companion.pages.desk import Desk
from companion.pages.keys import Keys
from companion.pages.live import newest_in
from companion.pages.port import LogPort
from companion.paths import Home
from tests.school_day import settings


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
