"""The companion's own page, over a log alone."""

from datetime import timedelta

from playwright.sync_api import Page, expect

from companion.log.copies import all_set_aside, back_up, set_aside, waiting
from companion.log.store import open_log
from companion.paths import Home
from tests.pages.lessons import OPENED, write_lesson


def test_a_damaged_log_is_taken_up_with_the_newest_backup(page: Page, home: Home) -> None:
    """What backup and damaged log have is in the log again; the damaged file stays, and is asked for once."""
    write_lesson(home.log)
    back_up(home.log, "day", OPENED)
    newer = write_lesson(home.log, class_group="2-Birch")
    damaged = set_aside(home.log, OPENED + timedelta(hours=1))
    whole = damaged.read_bytes()
    held = write_lesson(home.log, class_group="5-Oak")
    page.goto("running")
    page.get_by_role("button", name="Take it up").focus()
    page.keyboard.press("Enter")
    expect(page.locator("#told")).to_contain_text("2 sessions taken up")
    expect(page.get_by_role("button", name="Take it up")).to_have_count(0)
    with open_log(home.log) as log:
        groups = {one.class_group for one in log.summaries()}
        assert {newer.id, held.id} <= {one.session for one in log.summaries()}
    assert groups == {"4-Hazel", "2-Birch", "5-Oak"}
    assert waiting(home.log) == []
    assert [one.read_bytes() for one in all_set_aside(home.log)] == [whole]
