"""Everyone can use the pages: by keyboard, by screen reader, at any size, with any eyes."""

from collections.abc import Iterator
from typing import Literal

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from companion.bench.school_years import fill
from companion.clock import ComputerClock
from companion.lesson.session import Session
from companion.pages.port import LogPort, Status
from companion.pages.serve import PageServer
from companion.paths import Home
from tests.pages.axe import CONTRAST, STANDARD, Rules, found_wrong
from tests.pages.conftest import WAIT_MS
from tests.pages.days import DayPort, whole_day
from tests.pages.lessons import BODIES, write_lesson
from tests.pages.routes import paths_of
from tests.school_day import EIGHT, HandClock

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
def server(home: Home, clock: HandClock) -> Iterator[PageServer]:
    """Serve the pages of a companion with a timetable."""
    serving = PageServer(home, DayPort(home.log, clock), clock.wall).start()
    yield serving
    serving.stop()


@pytest.fixture
def day(home: Home) -> dict[str, Session]:
    """Write a day of lessons, in every state that a lesson can be in, with history behind it."""
    fill(home.log, 60)
    home.settings.write_text(SETTINGS, encoding="utf-8")
    return whole_day(home.log, EIGHT) | {"korean": write_lesson(home.log, *BODIES, class_group="3-은행나무")}


@pytest.fixture
def paths(day: dict[str, Session]) -> list[str]:
    """Return the path of every page: about a lesson that goes on, one that is over, and a settled one."""
    states = (day[state].id for state in ("live", "review", "settled"))
    return [*paths_of(states), f"live/{day['korean'].id}", f"review/{day['empty'].id}", "nowhere"]


@pytest.fixture
def still(browser: Browser, server: PageServer) -> Iterator[Page]:
    """Return a page without motion."""
    context = browser.new_context(
        base_url=server.base, viewport={"width": 1280, "height": 720}, reduced_motion="reduce"
    )
    context.set_default_timeout(WAIT_MS)
    page = context.new_page()
    page.goto(server.address())
    yield page
    context.close()


def show_here(page: Page) -> None:
    """Answer what a private page asks in a window that has shown a page for the class."""
    if page.locator("#gate").is_visible():
        page.locator("[data-show-here]").click()


def flow_within(page: Page, what: str) -> None:
    """Fail where it must be scrolled sideways: on a phone, or on a screen of 1280 pixels at 200 %."""
    for width, height in ((390, 720), (640, 360)):
        page.set_viewport_size({"width": width, "height": height})
        assert page.evaluate("document.documentElement.scrollWidth") <= width, f"{what}, {width}"
    page.set_viewport_size({"width": 1280, "height": 720})


def look_closely(page: Page, what: str) -> None:
    """Fail where axe finds a violation, in the light theme or in the dark one, with everything unfolded."""
    page.evaluate("for (const part of document.querySelectorAll('details')) part.open = true")
    themes: tuple[tuple[Literal["light", "dark"], Rules], ...] = (("light", STANDARD), ("dark", CONTRAST))
    for scheme, rules in themes:
        page.emulate_media(color_scheme=scheme)
        wrong = found_wrong(page, rules)
        assert not wrong, f"{what}, {scheme}\n{wrong}"


CONTROLS = "a[href], button, input:not([type=hidden]), select, textarea, summary"
WATCH = """controls => {
    for (const part of document.querySelectorAll("details")) part.open = true;
    const stops = (one) =>
        one.checkVisibility({ visibilityProperty: true }) && !one.disabled && one.tabIndex >= 0;
    const all = [...document.querySelectorAll(controls)].filter(stops);
    const middle = (from, to, most) => (Math.max(from, 0) + Math.min(to, most)) / 2;
    window.reached = new Set();
    window.shown = new Set();
    document.addEventListener("keydown", () => {
        const at = document.activeElement, box = at.getBoundingClientRect(), style = getComputedStyle(at);
        const [x, y] = [middle(box.left, box.right, innerWidth), middle(box.top, box.bottom, innerHeight)];
        const over = document.elementFromPoint(x, y);
        const uncovered = over && (at.contains(over) || over.contains(at));
        const ring = style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 3;
        reached.add(at.type === "radio" ? `radio ${at.name}` : at);
        if (uncovered && ring) shown.add(at);
    }, true);
    document.querySelector(".skip").focus();
    window.missed = () => all.filter((one) => !reached.has(one) && !reached.has(`radio ${one.name}`));
    window.hidden = () => all.filter((one) => reached.has(one) && !shown.has(one));
    return all.length + 6 * all.filter((one) => ["date", "time"].includes(one.type)).length;
}"""
"""Unfolds a page and looks, before each press, where the focus is: on which control, whether a ring shows it
and nothing lies over it. Of radio buttons one is reached, arrow keys go on. Returns the stops there may be.
"""
NAMES = (
    "all => all.map((one) => `${one.localName} ${one.name || ''} ${one.innerText || one.ariaLabel || ''}`)"
)


def go_by_tab(page: Page, what: str) -> None:
    """Fail where Tab does not come to a control, or does and shows no ring around it."""
    for _ in range(page.evaluate(WATCH, CONTROLS) + 1):
        page.keyboard.press("Tab")
    missed, hidden = (page.evaluate(f"({NAMES})({found}())") for found in ("missed", "hidden"))
    assert (missed, hidden) == ([], []), what


def test_axe_finds_what_is_wrong(browser_window: BrowserContext) -> None:
    """In light or in dark, as often as it is asked."""
    page = browser_window.new_page()
    page.set_content(
        "<!doctype html><html lang=en><title>Sheet</title><main><h1>Sheet</h1><img src=x></main>"
    )
    assert "image-alt" in found_wrong(page, STANDARD)
    assert not found_wrong(page, CONTRAST)
    page.set_content("<main style='background: #fff; color: #eee'>words</main>")
    assert "color-contrast" in found_wrong(page, CONTRAST)


def test_nothing_is_wrong_on_any_page(still: Page, paths: list[str]) -> None:
    """On every page there is: nothing that axe finds, nothing to scroll sideways, no control out of reach.

    No violation of WCAG 2.2 A and AA that a program can find, in both themes; all text flows within a phone's
    window and at 200 % zoom; each page loads in full, and no other address is even asked for. All is
    worked by Enter, Space and arrow keys; Tab comes to each control, a ring shows it, none is covered.
    """
    asked: list[str] = []
    still.on("request", lambda request: asked.append(request.url))
    for path in paths:
        still.goto(path)
        if still.locator("#gate").is_visible():
            flow_within(still, path)
            show_here(still)
        expect(still.locator("main")).to_be_visible()
        look_closely(still, path)
        flow_within(still, path)
        go_by_tab(still, path)
    own = still.evaluate("location.origin")
    assert [address for address in asked if not address.startswith(own)] == []
    assert len(asked) > len(paths)


def test_axe_finds_nothing_wrong_in_what_a_step_brings(still: Page, day: dict[str, Session]) -> None:
    """The question of the projector, an alert, words that are kept, and what is asked before a step."""
    review = day["review"].id
    still.goto("between")
    still.goto(f"reflection/{review}/teacher")
    expect(still.locator("#gate")).to_be_visible()
    look_closely(still, "the question of the projector")
    show_here(still)
    still.get_by_label("What we say next time").fill("Ask K. T. for the hose.")
    expect(still.locator(".kept")).to_have_text("Kept, not saved yet.")
    look_closely(still, "words that are kept")
    still.get_by_role("button", name="Carry over").click()
    expect(still.locator("#ask")).to_be_focused()
    look_closely(still, "the question of a code")
    still.get_by_role("button", name="Settle", exact=True).click()
    expect(still.get_by_role("button", name="Settle all the same")).to_be_visible()
    look_closely(still, "the question before settling")
    still.goto(f"private/{day['reflect'].id}")
    still.get_by_label("Initials or seat").fill("Nobody")
    still.get_by_role("button", name="Save").click()
    expect(still.get_by_role("alert")).to_contain_text("never a name")
    look_closely(still, "an alert")


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


def test_motion_stops_where_it_is_not_wanted(still: Page, home: Home) -> None:
    """With reduced motion asked for, the newest mark does not grow; it is there at once."""
    session = write_lesson(home.log, *BODIES)
    still.goto(f"live/{session.id}")
    assert still.locator(".fresh").evaluate("mark => getComputedStyle(mark).animationName") == "none"


def test_a_script_that_slipped_into_a_page_would_not_run(page: Page, home: Home) -> None:
    """Names are shown as they are written, and the policy stops inline script in any case."""
    session = write_lesson(home.log, *BODIES, class_group="<img src=x onerror=alert(1)>")
    page.goto(f"live/{session.id}")
    expect(page.locator("h1")).to_have_text("<img src=x onerror=alert(1)>")
