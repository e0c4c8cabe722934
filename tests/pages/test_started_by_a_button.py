"""The companion started, paused and ended by its page: the real process, in a home of its own."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from companion.background.client import is_running, stop
from companion.background.control import ask
from companion.background.house import CompanionHouse
from companion.clock import ComputerClock
from companion.pages.port import LogPort
from companion.pages.serve import PageServer
from companion.pages.setup.beginning import begin
from companion.paths import Home
from tests.rig_sound import SoundRig
from tests.waiting import until

LONG_MS = 60_000
"""For a process that starts on a busy machine."""


@pytest.fixture
def alone(home: Home, sound_rig: SoundRig) -> Iterator[PageServer]:
    """Serve the pages of a fresh home where no companion runs, as `companion pages` does."""
    assert sound_rig.server.poll() is None
    begin(home)
    clock = ComputerClock().wall
    server = PageServer(home, LogPort(home.log, clock), clock, CompanionHouse(home, clock, None)).start()
    yield server
    server.stop()
    if is_running(home):
        stop(home, print)


def told(page: Page, words: str) -> None:
    """Wait until the page says that this was done."""
    expect(page.locator("#told")).to_contain_text(words)


def test_it_is_started_paused_and_ended_by_buttons(
    browser_window: BrowserContext, alone: PageServer, home: Home
) -> None:
    """Start leads into its own pages, and a second window says that; pause, resume and end do as they say."""
    page = browser_window.new_page()
    page.goto(alone.address("/running"))
    second = browser_window.new_page()
    second.goto(f"{alone.base}running")
    page.get_by_role("button", name="Start the companion").click()
    page.wait_for_url(lambda address: not address.startswith(alone.base), timeout=LONG_MS)
    expect(page.get_by_role("heading", name="What this is")).to_be_visible()
    assert is_running(home)
    expect(second.locator("#connection")).to_contain_text("No connection to the companion.")
    second.close()

    page.goto(f"{page.url.partition('setup')[0]}running")
    whether = page.get_by_role("region", name="Whether it runs")
    expect(whether).to_contain_text("It runs. No lesson is open, and the microphone is closed.")
    ask(home.control, {"do": "open", "class_group": "4-Hazel", "plan": None, "room": ""})
    expect(whether).to_contain_text("The lesson of 4-Hazel is open: listening.", timeout=LONG_MS)
    whether.get_by_role("button", name="Pause listening").click()
    told(page, "Listening is paused.")
    expect(whether).to_contain_text("The lesson of 4-Hazel is open: paused.")
    assert "paused" in str(ask(home.control, {"do": "status"})).lower()
    whether.get_by_role("button", name="Listen again").click()
    told(page, "It listens again.")
    expect(whether).to_contain_text("The lesson of 4-Hazel is open: listening.")
    whether.get_by_role("button", name="End the companion").click()
    told(page, "Really end it? Marks are made by nothing then.")
    assert is_running(home)
    whether.get_by_role("button", name="Yes, end it").click()
    told(page, "The companion ends now.")
    assert until(lambda: not is_running(home), limit_s=30)
    expect(page.locator("#connection")).to_contain_text("No connection to the companion.")
