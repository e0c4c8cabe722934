"""First page, history and set-up in a real browser."""

from datetime import timedelta
from pathlib import Path

from playwright.sync_api import Page, expect

from companion.live.live import Live
from companion.live.pages_port import LivePort
from companion.pages.port import LogPort
from companion.pages.serve import PageServer
from companion.paths import Home
from tests.pages.lessons import BODIES, CLOSE, OPENED, write_lesson
from tests.school_day import HandClock, settings

STARTER = Path(__file__).parents[2] / "companion" / "settings" / "starter.toml"


def test_the_first_page_leads_to_what_is_next(page: Page, home: Home) -> None:
    """The lesson that goes on, and the sessions that wait for their review, are one click away."""
    waiting = write_lesson(home.log)
    running = write_lesson(home.log, *BODIES, class_group="2-Rowan")
    page.goto("./")
    page.get_by_role("link", name="To the lesson of 2-Rowan").click()
    expect(page).to_have_url(f"{page.url.split('/live')[0]}/live/{running.id}")
    page.goto("./")
    page.locator("#older").get_by_role("link", name="4-Hazel").click()
    expect(page).to_have_url(f"{page.url.split('/review')[0]}/review/{waiting.id}")


def test_a_lesson_is_opened_from_the_first_page_of_a_running_companion(page: Page, tmp_path: Path) -> None:
    """The coming class with one press, any other by its name; the page of a log alone offers neither."""
    page.goto("./")
    expect(page.get_by_text("Open another class")).to_have_count(0)
    home, clock = Home(tmp_path / "running").create(), HandClock()
    clock.jump(timedelta(minutes=-10))
    live = Live(home.log, settings(timetable=True), clock=clock)
    live.start()
    serving = PageServer(
        home, LivePort(live, lambda: None, LogPort(home.log, clock.wall)), clock.wall
    ).start()
    page.goto(serving.address())
    page.get_by_role("button", name="Open 4-Hazel now").click()
    expect(page.locator("h1")).to_have_text("4-Hazel")
    page.get_by_role("link", name="Today").click()
    page.get_by_text("Open another class").click()
    page.get_by_label("Class group").fill("5-Oak")
    page.get_by_role("button", name="Open", exact=True).click()
    expect(page.locator("h1")).to_have_text("5-Oak")
    serving.stop()
    live.stop()


def test_an_empty_log_says_how_to_begin(page: Page) -> None:
    """The first page of a new installation is no blank one."""
    page.goto("./")
    expect(page.get_by_text("No lesson yet today")).to_be_visible()
    for path in ("history", "next", "live"):
        page.goto(path)
        expect(page.locator("h1")).to_be_visible()


def test_a_lesson_of_years_ago_that_nobody_closed_is_still_drawn(page: Page, home: Home) -> None:
    """The line ends half an hour after its plan, not today, also when something is recorded today."""
    session = write_lesson(home.log, *BODIES, opened_at=OPENED.replace(year=2020))
    page.goto(f"live/{session.id}")
    drawn = page.locator("#phase .left").inner_text()
    assert drawn.endswith("min over")
    page.get_by_role("button", name="Said").click()
    expect(page.locator("#first")).to_contain_text("(said)")
    page.reload()
    expect(page.locator("#phase .left")).to_have_text(drawn)
    closed = write_lesson(home.log, *BODIES, CLOSE, opened_at=OPENED.replace(year=2021))
    page.goto(f"live/{closed.id}")
    expect(page.locator("#phase")).to_contain_text("The lesson is over")


def test_what_was_taken_out_of_the_settings_is_put_back(page: Page, home: Home) -> None:
    """Where it was, with its comments, and with what was typed since in another field."""
    starter = STARTER.read_text(encoding="utf-8")
    home.settings.write_text(starter, encoding="utf-8")
    page.goto("setup/levels")
    page.get_by_role("button", name="Take out Harvest table").click()
    expect(page.get_by_text("Taken out: Harvest table.")).to_be_visible()
    assert '"Harvest table"' not in home.settings.read_text(encoding="utf-8")
    page.reload()
    page.get_by_role("group", name="Level 1").get_by_label("Level").fill("Greener row")
    page.get_by_role("button", name="Put it back").click()
    expect(page.get_by_text("Taken out:")).to_have_count(0)
    assert home.settings.read_text(encoding="utf-8") == starter.replace('"Green row"', '"Greener row"')
