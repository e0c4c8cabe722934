"""Fixtures for the tests of the pages: a home with a lesson in it, served, and a real browser."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from companion.clock import ComputerClock
from companion.pages.port import LogPort
from companion.pages.serve import PageServer
from companion.paths import Home

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")


@pytest.fixture
def home(tmp_path: Path) -> Home:
    """Return a private folder of its own."""
    return Home(tmp_path / "home").create()


@pytest.fixture
def server(home: Home) -> Iterator[PageServer]:
    """Serve the pages over the log of `home`."""
    serving = PageServer(home, LogPort(home.log, ComputerClock().wall), ComputerClock().wall).start()
    yield serving
    serving.stop()


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Return Debian's Chromium; without one the test is skipped, in CI it fails."""
    if CHROMIUM is None:
        pytest.skip("no Chromium on this machine: install the package chromium")
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(
            executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"]
        )
        yield chromium
        chromium.close()


@pytest.fixture
def window(browser: Browser, server: PageServer) -> Iterator[BrowserContext]:
    """Return a browser window that was let in to the pages, 1280 by 720."""
    context = browser.new_context(
        viewport={"width": 1280, "height": 720},
        base_url=f"http://127.0.0.1:{server.port}",
        permissions=["clipboard-read", "clipboard-write"],
    )
    context.set_default_timeout(10_000)
    first = context.new_page()
    first.goto(server.address())
    first.close()
    yield context
    context.close()


@pytest.fixture
def page(window: BrowserContext) -> Iterator[Page]:
    """Return a page of that window that may not put anything on its console: no error, nothing blocked."""
    opened = window.new_page()
    said: list[str] = []
    opened.on("console", lambda message: said.append(message.text))
    opened.on("pageerror", lambda error: said.append(str(error)))
    yield opened
    assert said == []
