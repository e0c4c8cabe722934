"""All rooms together, in a real browser."""

from datetime import datetime
from pathlib import Path

from playwright.sync_api import Page, expect

from companion.bench.school_rooms import make_drive, mondays
from companion.bench.school_years import ZONE, fill
from companion.pages.school import SCHOOL_YEAR
from companion.paths import Home
from companion.school.ask import ask, sum_up
from companion.school.gather import gather
from companion.school.share import share
from companion.school.store import store_of

SETTINGS = """
[school]
name = "Alder Lane School"
shared = "{folder}"

[[plans]]
name = "garden and kitchen"
phases = [{{ name = "arrival", minutes = 3 }}]
"""


def test_this_room_shares_and_is_seen_beside_all(page: Page, home: Home, tmp_path: Path) -> None:
    """Without a folder the page says how; with three rooms it shows sums, and a sheet without this room."""
    page.goto("history")
    page.get_by_role("link", name="All rooms together").click()
    expect(page.locator("main")).to_contain_text("Name the folder in Set-up: School")
    drive = tmp_path / "drive"
    drive.mkdir()
    fill(home.log, 140, seed=1, ends=datetime.now(ZONE))
    for seed, other in enumerate(("music", "science"), start=2):
        room = Home(tmp_path / other).create()
        fill(room.log, 140, seed=seed, ends=datetime.now(ZONE))
        share(room, drive, "Alder Lane School", datetime.now(ZONE).date())
    home.settings.write_text(SETTINGS.format(folder=""), encoding="utf-8")
    page.goto("school")
    page.get_by_role("link", name="Set-up: School").click()
    page.get_by_text("All rooms together").click()
    page.get_by_label("Folder that all rooms of the school reach").fill(drive.as_posix())
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator("#told")).to_contain_text("Saved.")
    page.goto("setup/school")
    # What was typed is no address of the pages, though it begins like one.
    expect(page.get_by_label("Folder that all rooms of the school reach")).to_have_value(drive.as_posix())
    page.goto("school")
    expect(page.locator("main")).to_contain_text("Nothing was gathered yet.")
    page.get_by_role("button", name="Gather the weeks").click()
    expect(page.locator("main")).to_contain_text("Nothing can be told yet.")
    page.get_by_role("button", name="Share this room’s weeks").click()
    page.get_by_role("button", name="Gather the weeks").click()
    expect(page.locator(".count")).to_contain_text("praises for each reminder")
    expect(page.locator("main")).to_contain_text("in this room alone")
    phases = page.get_by_role("region", name="Phases in the order").locator("tbody th").all_inner_texts()
    assert phases == ["arrival", "opening", "set up", "work time", "cleanup", "line up"]
    with page.expect_download() as download:
        page.get_by_role("link", name="A sheet to print").click()
    sheet = Path(download.value.path()).read_text(encoding="utf-8")
    assert "All rooms together" in sheet
    assert "this room" not in sheet


def test_years_of_weeks_are_a_press_away(page: Page, home: Home, tmp_path: Path) -> None:
    """The page tells the newest weeks one by one, its sums and the sheet all of them."""
    drive, store = tmp_path / "drive", store_of(home, tmp_path / "drive")
    home.settings.write_text(SETTINGS.format(folder=drive.as_posix()), encoding="utf-8")
    make_drive(drive, rooms=4, weeks=mondays(2))
    gather(drive, store, datetime.now(ZONE).date())
    sum_up(store)
    told = len(ask(store).spans)
    assert told > SCHOOL_YEAR
    page.goto("school")
    weeks = page.get_by_role("region", name="Weeks, and months").locator("tbody tr")
    lessons = page.locator("main > p", has_text="weeks up to that of").inner_text()
    expect(weeks).to_have_count(SCHOOL_YEAR)
    newest = weeks.last.inner_text()
    page.get_by_role("link", name="All weeks and months one by one").click()
    expect(weeks).to_have_count(told)
    assert weeks.last.inner_text() == newest
    assert page.locator("main > p", has_text="weeks up to that of").inner_text() == lessons
