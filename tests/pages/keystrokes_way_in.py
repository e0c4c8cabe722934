"""How long the way in takes, by the keystroke model; `tests.pages.keystrokes` prints it."""

from collections import Counter
from dataclasses import dataclass

from playwright.sync_api import expect

from companion.clock import ComputerClock
from companion.listening.rehearsal.guide import steps_for
from companion.log.store import open_log
from companion.pages.port import LogPort
from companion.pages.serve import PageServer
from companion.pages.setup.beginning import begin
from companion.pages.setup.rehearsal import said_once
from companion.paths import Home
from companion.settings.settings import load_settings
from tests.pages.hand import Hand, Teacher, first_page

MOST_S = 600.0
PHRASES = (
    "well done everyone", "check yourselves", "table {table} well done", "table {table} check",
    "take that back", "on we go", "freeze and look", "tidy the beds", "stand at the gate",
    "note first aid", "note gone home", "stop listening now",
)  # fmt: skip
PHASES = (
    "come in", "circle", "show and tell", "tools out", "in the beds", "freeze", "tidy up", "at the gate",
)  # fmt: skip
ROUTINES = ("boots at the door", "hands wait")
CLASSES = ("4-Hazel", "2-Birch", "5-Oak", "7-Rowan", "3-Elm")
PERIODS = 7
SPEAK_S, PRESS_S, EXAMINE_S = 8.0, 2.0, 30.0
"""Speaking, pressing the button, being examined. Learning goes on behind the next steps."""


@dataclass(slots=True)
class Way(Teacher):
    """Somebody who goes the way in."""

    home: Home

    def on(self, hand: Hand, words: str = "Save and go on") -> None:
        """Go on to the next step."""
        heading = self.page.locator("h1").inner_text()
        hand.click(self.page.get_by_role("button", name=words, exact=True).last)
        expect(self.page.locator("h1")).not_to_have_text(heading)
        self.page.wait_for_load_state()

    def go(self) -> None:
        """Go it: each name typed anew, each lesson of the week written."""
        page = self.page
        self.on(self.task("rules"), "I have read this: go on")
        hand = self.task("school")
        hand.click(page.get_by_label("Your school"))
        hand.write("Alder Lane School")
        hand.keys("Tab")
        hand.write("Garden room")
        self.on(hand)
        hand = self.task("microphone")
        hand.click(page.get_by_role("button", name="Listen"))
        hand.wait(SPEAK_S)
        self.on(hand)
        hand = self.task("cue")
        hand.think()
        hand.click(page.get_by_role("radio", name="granite gondola"))
        self.on(hand)
        self._phrases()
        hand = self.task("rehearsal")
        settings = load_settings(self.home.settings)
        steps = steps_for(settings.vocabulary(settings.plan()), said_once(settings))
        hand.wait(sum(step.about_s for step in steps))
        self.on(hand, "Go on")
        hand = self.task("clicker")
        hand.click(page.get_by_role("button", name="Press my button"))
        hand.wait(PRESS_S)
        hand.think()
        self.on(hand)
        self._plan()
        self._week()
        hand = self.task("levels")
        hand.think()
        self.on(hand)
        hand = self.task("try")
        hand.wait(3 * SPEAK_S / 2 + 2 * PRESS_S)
        self.on(hand, "Go on")
        hand = self.task("ready")
        hand.wait(EXAMINE_S)
        hand.click(page.get_by_role("button", name="To the board"))

    def _phrases(self) -> None:
        """Say each phrase otherwise; the starter's others are taken out."""
        page, hand = self.page, self.task("twelve phrases")
        rows = page.locator(".says li")
        while rows.count() > len(PHRASES):
            count = rows.count()
            hand.click(rows.nth(count - 2).get_by_role("button", name="Take out"))
            expect(rows).to_have_count(count - 1)
        hand.click(rows.first.locator("input"))
        hand.keys("Control+a")
        for number, phrase in enumerate(PHRASES):
            hand.think()
            hand.write(phrase)
            if number < len(PHRASES) - 1:
                hand.keys("Tab", "Tab", "Tab")
        self.on(hand)

    def _plan(self) -> None:
        """Name each phase anew, with its minutes and two routines."""
        page, hand = self.page, self.task("a plan of eight phases")
        hand.click(page.get_by_role("group", name="Phase 1 of").get_by_label("Phase"))
        hand.keys("Control+a")
        for number, phase in enumerate(PHASES):
            hand.think()
            hand.write(phase)
            hand.keys("Tab")
            hand.write("6")
            hand.keys("Tab", "Tab", "Control+a")
            hand.write(ROUTINES[0])
            hand.keys("Enter")
            hand.write(ROUTINES[1])
            if number < len(PHASES) - 1:
                hand.keys(*["Tab"] * (2 if number == 0 else 3))
        self.on(hand)

    def _week(self) -> None:
        """Write each of 35 lessons into its cell."""
        page, hand = self.page, self.task("a week of 35 lessons")
        hand.click(page.get_by_role("button", name="Lay out the week"))
        expect(page.locator("table.week")).to_be_visible()
        hand.click(page.locator("table.week input").first)
        for period in range(PERIODS):
            for day in range(len(CLASSES)):
                hand.write(CLASSES[(day + period) % len(CLASSES)])
                hand.keys("Tab")
        self.on(hand)


def go_way_in(home: Home) -> list[tuple[str, Counter[str]]]:
    """Go the way in from an empty home in a browser, and return what each step took."""
    begin(home)
    open_log(home.log).close()
    clock = ComputerClock().wall
    server = PageServer(home, LogPort(home.log, clock), clock).start()
    with first_page(server) as page:
        way = Way(page, home)
        way.go()
    server.stop()
    settings = load_settings(home.settings)
    assert tuple(phrase.say for phrase in settings.phrases) == PHRASES
    assert tuple(phase.name for phase in settings.plans[0].phases) == PHASES
    assert settings.timetable is not None
    assert len(settings.timetable.timetable().entries) == PERIODS * len(CLASSES)
    return way.tasks
