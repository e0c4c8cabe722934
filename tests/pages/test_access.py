"""Everyone can use the pages: by keyboard, by screen reader, at any size, with any eyes."""

from collections.abc import Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page, expect

from companion.bench.school_years import fill
from companion.clock import ComputerClock
from companion.pages.port import LogPort, Status
from companion.pages.serve import PageServer
from companion.pages.setup.steps import MORE, STEPS
from companion.paths import Home
from tests.pages.conftest import WAIT_MS
from tests.pages.lessons import BODIES, CLOSE, NOTE, write_lesson

PATHS = [
    "./",
    "live/{open}",
    "live/{open}/projector",
    "review/{closed}",
    "private/{closed}",
    "reflection/{closed}/teacher",
    "reflection/{closed}",
    "reflection/{closed}/projector",
    "note/{closed}",
    "next",
    "notes",
    "between",
    "history/sheet",
    "history/levels",
    "practice",
    "history",
    "kept",
    "setup",
    "setup/mend",
    *(f"setup/{step.key}" for step in (*STEPS, MORE)),
    "nowhere",
]
STANDARD = {
    "type": "tag",
    "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
}
CONTRAST = {"type": "rule", "values": ["color-contrast", "link-in-text-block"]}
"""All that another theme can change."""
SETTINGS = """
[school]
name = "Alder Lane School"

[[plans]]
name = "garden lesson"
phases = [{ name = "arrival", minutes = 3, routines = ["boots at the door"] }]

[[keys]]
press = "ctrl+alt+p"
does = "praise"

[timetable]
begins = 2026-08-31
ends = 2027-06-18
hours = { usual = { first = "08:30-09:15" } }
"""


class InTrouble(LogPort):
    """The port of a companion that neither hears nor feels keys."""

    def status(self, session_id: str) -> Status:  # noqa: ARG002 - the protocol's own signature
        """Return two troubles as long as they come."""
        keys = "Keys can't be heard: there is no screen to hear them from. Start it inside the desktop."
        return Status(
            "Not heard", troubles=("The microphone is not there. Plug it in; it is found again.", keys)
        )


@pytest.fixture
def paths(home: Home) -> list[str]:
    """Return the path of every page, with lessons, history and settings behind them."""
    fill(home.log, 60)
    home.settings.write_text(SETTINGS, encoding="utf-8")
    closed = write_lesson(home.log, *BODIES, NOTE, CLOSE)
    running = write_lesson(home.log, *BODIES, class_group="3-은행나무")
    return [path.format(open=running.id, closed=closed.id) for path in PATHS]


@pytest.fixture(params=["light", "dark"])
def themed(browser: Browser, server: PageServer, request: pytest.FixtureRequest) -> Iterator[Page]:
    """Return a page in the light and in the dark theme, without motion."""
    context = browser.new_context(
        base_url=server.base,
        viewport={"width": 1280, "height": 720},
        color_scheme=request.param,
        reduced_motion="reduce",
    )
    context.set_default_timeout(WAIT_MS)
    page = context.new_page()
    page.goto(server.address())
    yield page
    context.close()


def show_here(page: Page) -> None:
    """Answer what a private page asks in a window that has shown a page for the class."""
    if page.locator("#gate").is_visible():
        page.get_by_role("button", name="Show it here").click()


def test_axe_finds_nothing_wrong_on_any_page(themed: Page, paths: list[str]) -> None:
    """No violation of WCAG 2.2 A and AA that a program can find, in both themes, with everything unfolded."""
    dark = themed.evaluate("matchMedia('(prefers-color-scheme: dark)').matches")
    for path in paths:
        themed.goto(path)
        themed.evaluate("for (const part of document.querySelectorAll('details')) part.open = true")
        show_here(themed)
        results = Axe().run(themed, options={"runOnly": CONTRAST if dark else STANDARD})
        assert results.violations_count == 0, f"{path}\n{results.generate_report()}"


@pytest.mark.parametrize(("width", "scale"), [(390, 1), (640, 2)], ids=["phone", "zoom 200 %"])
def test_nothing_has_to_be_scrolled_sideways(
    browser: Browser, server: PageServer, paths: list[str], width: int, scale: int
) -> None:
    """On a phone and at 200 % zoom of a 1280-pixel screen all text flows within the window."""
    context = browser.new_context(
        base_url=server.base,
        viewport={"width": width, "height": 720 // scale},
        device_scale_factor=scale,
    )
    page = context.new_page()
    page.goto(server.address())
    for path in paths:
        page.goto(path)
        page.evaluate("for (const part of document.querySelectorAll('details')) part.open = true")
        assert page.evaluate("document.documentElement.scrollWidth") <= width, path
    context.close()


def test_live_and_projector_fit_a_projector_without_scrolling(page: Page, home: Home) -> None:
    """At 1280 by 720 the class sees all of the line and the count, and the teacher all buttons."""
    session = write_lesson(home.log, *BODIES)
    for path in (f"live/{session.id}", f"live/{session.id}/projector"):
        page.goto(path)
        assert page.evaluate("document.documentElement.scrollHeight") <= 720, path


def test_troubles_leave_the_lesson_in_sight(home: Home, browser_window: BrowserContext) -> None:
    """With microphone and keys both in trouble the line, the count and all buttons are still seen at once."""
    session, clock = write_lesson(home.log, *BODIES[:1], *BODIES[2:]), ComputerClock().wall
    server = PageServer(home, InTrouble(home.log, clock), clock).start()
    try:
        page = browser_window.new_page()
        page.goto(server.address(f"/live/{session.id}"))
        page.get_by_role("button", name="Said").click()
        expect(page.locator("#first")).to_contain_text("(said)")
        expect(page.locator(".trouble")).to_have_count(2)
        assert page.evaluate("document.documentElement.scrollHeight") <= 720
    finally:
        server.stop()


def test_every_control_is_reached_by_the_tab_key_and_shows_its_focus(page: Page, home: Home) -> None:
    """A keyboard alone gets to each button of the live page, in order, with a visible outline."""
    session = write_lesson(home.log, *BODIES)
    page.goto(f"live/{session.id}")
    controls = page.locator(":is(a, button, summary):visible")
    reached = []
    for _ in range(controls.count()):
        page.keyboard.press("Tab")
        reached.append(page.evaluate("document.activeElement.textContent.trim()"))
        style = "getComputedStyle(document.activeElement)"
        assert page.evaluate(f"{style}.outlineStyle") != "none", reached[-1]
        assert float(page.evaluate(f"{style}.outlineWidth").removesuffix("px")) >= 3
    assert reached == [text.strip() for text in controls.all_text_contents()]


def test_motion_stops_where_it_is_not_wanted(themed: Page, home: Home) -> None:
    """With reduced motion asked for, the newest mark does not grow; it is there at once."""
    session = write_lesson(home.log, *BODIES)
    themed.goto(f"live/{session.id}")
    assert themed.locator(".fresh").evaluate("mark => getComputedStyle(mark).animationName") == "none"


def test_nothing_comes_from_outside_the_machine(window: BrowserContext, home: Home, paths: list[str]) -> None:
    """With every other address cut off each page still loads in full, and none is even asked for."""
    asked: list[str] = []
    page = window.new_page()
    page.on("request", lambda request: asked.append(request.url))
    for path in paths:
        page.goto(path)
        show_here(page)
        expect(page.locator("main")).to_be_visible()
    own = page.evaluate("location.origin")
    assert [address for address in asked if not address.startswith(own)] == []
    assert home.log.exists()


def test_a_script_that_slipped_into_a_page_would_not_run(page: Page, home: Home) -> None:
    """Names are shown as they are written, and the policy stops inline script in any case."""
    session = write_lesson(home.log, *BODIES, class_group="<img src=x onerror=alert(1)>")
    page.goto(f"live/{session.id}")
    expect(page.locator("h1")).to_have_text("<img src=x onerror=alert(1)>")
