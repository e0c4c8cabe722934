"""The icon in the tray, and the notice of trouble."""

import os
import stat
from contextlib import suppress
from pathlib import Path

import psutil
import pytest

from companion.background.glance import Glance, glance_at
from companion.background.notices import TITLE, Notices, command_for
from companion.background.tray import TrayProcess, picture_of
from companion.live.state import Listening, LiveState
from companion.log.store import open_log
from companion.paths import Home
from tests.pages.lessons import write_lesson
from tests.rig import Screen
from tests.running import Companion
from tests.school_day import SETTINGS
from tests.systems import needs_linux, needs_x11
from tests.waiting import until


@pytest.fixture
def troubled(tmp_path: Path) -> LiveState:
    """Return the state of a lesson whose microphone is gone."""
    session = write_lesson(tmp_path / "sessions.db")
    with open_log(tmp_path / "sessions.db") as log:
        session = log.session(session.id)
    return LiveState(
        session, 0.0, Listening.TROUBLED, "the microphone is not there", "Plug it in; it is found again."
    )


def test_each_state_has_a_shape_of_its_own() -> None:
    """Told apart without any colour: the outlines cover other places."""
    shapes = {
        glance: picture_of(glance).getchannel("A").point(lambda a: 255 * (a > 0)).tobytes()
        for glance in Glance
    }
    for one in Glance:
        for other in Glance:
            differ = sum((a > 0) != (b > 0) for a, b in zip(shapes[one], shapes[other], strict=True))
            assert one is other or differ > 0.15 * len(shapes[one])


def test_trouble_is_told_once_and_again_when_it_has_been_well(troubled: LiveState) -> None:
    """Without a lesson nothing is told."""
    told: list[str] = []
    notices = Notices(told.append)
    notices.follow(LiveState())
    for _ in range(3):
        notices.follow(troubled)
    assert told == ["4-Hazel: The microphone is not there. Plug it in; it is found again."]
    notices.follow(LiveState(troubled.session, 0.0, Listening.ON))
    notices.follow(troubled)
    assert len(told) == 2
    assert glance_at(troubled)[0] is Glance.TROUBLE


@pytest.mark.parametrize("platform", ["linux", "darwin", "win32"])
def test_words_are_never_a_part_of_the_program_that_shows_them(platform: str) -> None:
    """Whatever stands in them is one argument, or comes by the environment."""
    words = "'; rm -rf ~ \" $(x) --help"
    command, told = command_for(platform, words, lambda name: f"/bin/{name}")
    assert [*command, *told.values()].count(words) == 1
    assert not any(words in part for part in command if part != words)
    assert command_for(platform, words, lambda _: None) == ([], {})


@needs_linux
def test_a_notice_reaches_the_desktop(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, troubled: LiveState
) -> None:
    """By `notify-send`; where that breaks, nothing is the matter."""
    program, seen = tmp_path / "notify-send", tmp_path / "seen.txt"
    program.write_text(f'#!/bin/sh\nprintf "%s\\n" "$@" > {seen}.new; mv {seen}.new {seen}; exit 3\n')
    program.chmod(program.stat().st_mode | stat.S_IXUSR)
    monkeypatch.setenv("PATH", f"{tmp_path}:{os.environ['PATH']}")
    Notices().follow(troubled)
    assert until(seen.exists)
    assert seen.read_text().splitlines()[-2:] == [
        TITLE,
        "4-Hazel: The microphone is not there. Plug it in; it is found again.",
    ]


@needs_x11
def test_an_icon_on_a_desktop_without_a_tray_stops_nothing(tmp_path: Path, screen: Screen) -> None:
    """Its process comes and goes; no companion answers, and it ends by itself or when it is told to."""
    assert screen.server.poll() is None
    tray = TrayProcess(Home(tmp_path / "home").create())
    tray.start()
    tray.close()


@needs_x11
def test_the_icon_of_a_companion_that_was_killed_goes(tmp_path: Path, screen: Screen) -> None:
    """Although another one runs in the same home by then, and answers: that has an icon of its own."""
    assert screen.server.poll() is None
    companion = Companion(tmp_path / "home", SETTINGS)
    companion.start()
    before = psutil.Process(companion.process.pid).children()
    companion.kill()
    companion.start()
    try:
        _, left = psutil.wait_procs(before, timeout=30)
        assert not left
        assert len(icons(companion)) == 1
    finally:
        companion.end()


def icons(companion: Companion) -> list[psutil.Process]:
    """Return the processes with an icon of this companion's home."""
    wanted = ["companion.background.tray", str(companion.home.folder)]
    return [one for one in psutil.process_iter() if set(wanted) <= set(words_of(one))]


def words_of(process: psutil.Process) -> list[str]:
    """Return a process' command line; none of one that has just ended."""
    with suppress(psutil.Error):
        return process.cmdline()
    return []


@needs_x11
def test_without_a_screen_there_is_no_icon(tmp_path: Path, no_screen: None) -> None:
    """No process is started."""
    assert no_screen is None
    tray = TrayProcess(Home(tmp_path))
    tray.start()
    assert tray._process is None
    tray.close()
