"""How long a day takes at the screen, by the keystroke model: `python -m tests.pages.keystrokes`.

The way in comes after it. Each task is really done on the pages in a browser; what the hands and the head do
for it is counted on the way (`tests.pages.hand`).
"""

import tempfile
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from playwright.sync_api import expect

from companion.lesson.command import Action, Command
from companion.lesson.mark import NoteKind, Source
from companion.live.live import Live
from companion.live.pages_port import LivePort
from companion.pages.port import LogPort
from companion.pages.serve import PageServer
from companion.paths import Home
from companion.settings.settings import parse_settings
from tests.pages.hand import MEANING, SECONDS, Teacher, first_page, seconds
from tests.pages.keystrokes_way_in import MOST_S, go_way_in
from tests.school_day import SETTINGS, HandClock

CLASSES = ("4-Hazel", "2-Birch", "5-Oak", "7-Rowan", "3-Elm", "1-Ash", "K-Fir")
WITH_NOTE = ("4-Hazel", "3-Elm")
MOST_NOTE_S, MOST_DAY_S = 30.0, 7 * 60.0
LINE = "cut finger, plaster, back after five minutes"
TIMETABLE = """
[timetable]
begins = 2026-08-31
ends = 2027-06-18
zone = "America/Chicago"
opens = "hand"
[timetable.hours.usual]
"""


@dataclass(slots=True)
class Day(Teacher):
    """A day of classes on the pages of a running companion."""

    live: Live
    clock: HandClock

    def hold(self, class_group: str) -> None:
        """Open a lesson, hold it by voice, end, review, reflect and settle it."""
        page, with_note = self.page, class_group in WITH_NOTE
        self.task("open").click(page.get_by_role("button", name=f"Open {class_group} now"))
        expect(page.locator("h1")).to_have_text(class_group)
        for action in [Action.PRAISE] * 5 + [Action.REMINDER] + [Action.NOTE] * with_note:
            note = NoteKind.HEALTH_OFFICE if action is Action.NOTE else None
            self.clock.go_on(240)
            self.live.ask(Command(action, note=note), Source.KEY).result(20)
        self.task("end").click(page.get_by_role("button", name="End the lesson"))
        hand = self.task("review")
        hand.click(page.get_by_role("link", name="On to the review"))
        while not page.get_by_text("How did our lesson go?").is_visible():
            expect(page.locator("[data-card]:focus")).to_be_visible()
            hand.think()
            hand.keys("Enter")
            expect(page.locator("#main:not([aria-busy=true])")).to_be_visible()
            page.wait_for_load_state()
        hand = self.task("reflect and settle")
        hand.click(page.get_by_role("radio", name="went well"))
        hand.click(page.get_by_role("button", name="Note the rating"))
        hand.think()
        hand.click(page.get_by_role("button", name="Settle", exact=True))
        expect(page.get_by_text("We take home")).to_be_visible()
        hand.click(page.get_by_role("link", name="Teacher’s side"))
        expect(page.get_by_role("button", name="Show it here")).to_be_focused()
        hand.keys("Enter")
        if with_note:
            self.note()
        self.task("back to the board").click(page.get_by_role("link", name="Today"))
        self.clock.go_on(3600 - 240 * (6 + with_note))

    def note(self) -> None:
        """Complete an individual note with a family contact."""
        hand = self.task("individual note with a contact")
        hand.click(self.page.get_by_role("link", name="Private notes"))
        hand.click(self.page.get_by_label("Initials or seat"))
        hand.write("K. T.")
        hand.keys("Tab", "Tab")
        hand.think()
        hand.write(LINE)
        hand.keys("Tab")
        hand.think()
        hand.keys("p", "Tab", "Enter")
        expect(self.page.get_by_text("to be completed")).to_have_count(0)

    def print_notes(self) -> None:
        """Print the notes of the day."""
        self.page.evaluate("window.print = () => {}")
        hand = self.task("print all notes")
        hand.click(self.page.get_by_role("link", name="notes of today"))
        self.page.evaluate("window.print = () => {}")
        hand.click(self.page.get_by_role("button", name="Print all"))


def hold_day(home: Home) -> list[tuple[str, Counter[str]]]:
    """Hold a day of seven classes in a browser and return what each task took."""
    hours = "\n".join(f'p{i} = "{8 + i:02}:00-{8 + i:02}:50"' for i in range(len(CLASSES)))
    lessons = "".join(
        f'\n[[timetable.lessons]]\nday = "mon"\nperiod = "p{i}"\nclass_group = "{name}"\n'
        for i, name in enumerate(CLASSES)
    )
    clock = HandClock()
    settings = parse_settings(SETTINGS + TIMETABLE + hours + lessons, "companion.toml")
    live = Live(home.log, settings, clock=clock)
    live.start()
    port = LivePort(live, lambda: None, LogPort(home.log, clock.wall))
    server = PageServer(home, port, clock.wall).start()
    with first_page(server) as page:
        day = Day(page, live, clock)
        for class_group in CLASSES:
            day.hold(class_group)
        day.print_notes()
    server.stop()
    live.stop()
    return day.tasks


def main() -> None:
    """Print the table."""
    with tempfile.TemporaryDirectory() as folder:
        tasks = hold_day(Home(Path(folder)).create())
    print(*(f"{name} {SECONDS[name]:.2f} s  {meaning}" for name, meaning in MEANING.items()), sep="\n")
    day_s = print_table(tasks)
    most = MOST_DAY_S / 60
    print(f"\nA day of {len(CLASSES)} classes: {day_s / 60:.1f} of at most {most:.0f} minutes at the screen")
    with tempfile.TemporaryDirectory() as folder:
        way_s = print_table(go_way_in(Home(Path(folder) / "home")))
    print(f"\nThe way in: {way_s / 60:.1f} of at most {MOST_S / 60:.0f} minutes, rehearsal included")


def print_table(tasks: list[tuple[str, Counter[str]]]) -> float:
    """Print what each task took, and return the seconds of all."""
    print(f"\n{'task':34}{'times':>6}" + "".join(f"{name:>5}" for name in SECONDS) + f"{'each':>9}{'all':>9}")
    for name in dict.fromkeys(name for name, _ in tasks):
        found = [done for one, done in tasks if one == name]
        whole: Counter[str] = sum(found, Counter())
        counts = "".join(f"{whole[operator]:5}" for operator in SECONDS)
        spent = seconds(whole)
        print(f"{name:34}{len(found):6}{counts}{spent / len(found):7.1f} s{spent:7.1f} s")
    return sum(seconds(done) for _, done in tasks)


if __name__ == "__main__":
    main()
