"""Fixtures for the tests of the pages: a home with a lesson in it, served, and a real browser."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright

from companion.clock import ComputerClock
from companion.pages.port import LogPort
from companion.pages.serve import PageServer
from companion.paths import Home
from tests.school_day import HandClock

WAIT_MS = 20_000
"""How long a page may take on a busy machine before a test gives up."""
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
ENGINE = shutil.which("chromium-headless-shell") or CHROMIUM
"""The same browser without its own windows and buttons, which take two thirds of its processor time."""
expect.set_options(timeout=WAIT_MS)


@pytest.fixture
def home(tmp_path: Path) -> Home:
    """Return a private folder of its own."""
    return Home(tmp_path / "home").create()


@pytest.fixture
def clock() -> HandClock:
    """Return a clock at a quarter to eleven."""
    clock = HandClock()
    clock.go_on(165 * 60)
    return clock


@pytest.fixture
def server(home: Home) -> Iterator[PageServer]:
    """Serve the pages over the log of `home`."""
    serving = PageServer(home, LogPort(home.log, ComputerClock().wall), ComputerClock().wall).start()
    yield serving
    serving.stop()


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Return the engine of Debian's Chromium; without one the test is skipped, in CI it fails."""
    if ENGINE is None:
        pytest.skip("no Chromium on this machine: install the package chromium")
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(
            executable_path=ENGINE, args=["--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"]
        )
        yield chromium
        chromium.close()


@pytest.fixture
def browser_window(browser: Browser) -> Iterator[BrowserContext]:
    """Return a browser window of 1280 by 720 that was not let in yet."""
    context = browser.new_context(
        viewport={"width": 1280, "height": 720}, permissions=["clipboard-read", "clipboard-write"]
    )
    context.set_default_timeout(WAIT_MS)
    yield context
    context.close()


@pytest.fixture
def window(browser: Browser, server: PageServer) -> Iterator[BrowserContext]:
    """Return a browser window of 1280 by 720 that was let in to the pages."""
    context = browser.new_context(
        viewport={"width": 1280, "height": 720},
        base_url=server.base,
        permissions=["clipboard-read", "clipboard-write"],
    )
    context.set_default_timeout(WAIT_MS)
    first = context.new_page()
    first.goto(server.address())
    first.close()
    yield context
    context.close()


@pytest.fixture
def page(window: BrowserContext) -> Iterator[Page]:
    """Return a page of that window that may not put anything on its console: no error, nothing blocked.

    A refusal that the page shows to its user (409) is neither.
    """
    opened = window.new_page()
    said: list[str] = []
    opened.on("console", lambda message: said.append(message.text))
    opened.on("pageerror", lambda error: said.append(str(error)))
    yield opened
    assert [words for words in said if "status of 409" not in words] == []


@pytest.fixture
def window_without_script(browser: Browser, server: PageServer) -> Iterator[Page]:
    """Return a page of a browser that runs no script."""
    context = browser.new_context(base_url=server.base, java_script_enabled=False)
    context.set_default_timeout(WAIT_MS)
    page = context.new_page()
    page.goto(server.address())
    yield page
    context.close()
