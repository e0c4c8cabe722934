"""A teacher's hand at a page, whose moves are counted by the keystroke model.

Times of an operator are those of Card, Moran and Newell (1980), "The keystroke-level model for user
performance time with interactive systems", Communications of the ACM 23 (7).
"""

from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

from playwright.sync_api import Locator, Page, expect, sync_playwright

from companion.pages.serve import PageServer
from tests.pages.conftest import CHROMIUM

SECONDS = {"K": 0.28, "P": 1.10, "B": 0.10, "H": 0.40, "M": 1.35, "R": 1.0}
MEANING = {
    "K": "a key, of an average typist who is no secretary",
    "P": "pointing with the mouse",
    "B": "the mouse's button down or up",
    "H": "the hand from mouse to keys or back",
    "M": "making up one's mind",
    "R": "a second of speaking, pressing a clicker, or waiting for an answer",
}


@dataclass(slots=True)
class Hand:
    """A teacher's hand at mouse and keys of a page; counts what it does."""

    page: Page
    at_mouse: bool = True
    done: Counter[str] = field(default_factory=Counter)

    def think(self) -> None:
        """Make up one's mind."""
        self.done["M"] += 1

    def click(self, target: Locator) -> None:
        """Point and click."""
        self._home(mouse=True)
        self.done += Counter({"P": 1, "B": 2})
        target.click()
        expect(self.page.locator("#main:not([aria-busy=true])")).to_be_attached()

    def keys(self, *keys: str) -> None:
        """Press keys."""
        self._home(mouse=False)
        for key in keys:
            self.done["K"] += 1
            self.page.keyboard.press(key)

    def write(self, words: str) -> None:
        """Type words."""
        self._home(mouse=False)
        self.done["K"] += len(words)
        self.page.keyboard.type(words)

    def wait(self, for_s: float) -> None:
        """Speak, press a clicker or wait for the companion."""
        self.done["R"] += round(for_s)

    def _home(self, *, mouse: bool) -> None:
        self.done["H"] += self.at_mouse is not mouse
        self.at_mouse = mouse


@dataclass(slots=True)
class Teacher:
    """Somebody at the screen, and what each of the tasks took."""

    page: Page
    tasks: list[tuple[str, Counter[str]]] = field(default_factory=list, kw_only=True)

    def task(self, name: str) -> Hand:
        """Begin a task, and return the hand that does it."""
        hand = Hand(self.page)
        self.tasks.append((name, hand.done))
        hand.think()
        return hand


@contextmanager
def first_page(server: PageServer) -> Iterator[Page]:
    """Open the first page of `server` in a browser of 1280 by 720."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"]
        )
        page = browser.new_context(viewport={"width": 1280, "height": 720}).new_page()
        page.goto(server.address())
        yield page
        browser.close()


def seconds(done: Counter[str]) -> float:
    """Return how long it takes to do what was counted."""
    return sum(SECONDS[operator] * times for operator, times in done.items())
