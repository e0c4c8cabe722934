"""The pages in a real browser."""

from playwright.sync_api import BrowserContext, Page, expect

from companion.log.store import open_log
from companion.paths import Home
from tests.pages.lessons import BODIES, write_lesson


def test_a_mark_shows_in_both_windows_without_reloading(
    window: BrowserContext, page: Page, home: Home
) -> None:
    """A press on the teacher's window appears on the projector's within moments, and is announced."""
    session = write_lesson(home.log, *BODIES)
    page.goto(f"/live/{session.id}")
    projector = window.new_page()
    projector.goto(f"/live/{session.id}/projector")
    page.get_by_role("button", name="Praise", exact=True).click()
    expect(projector.locator("#count")).to_contain_text("11 praises")
    expect(page.locator("#newest")).to_contain_text("Last mark: praise, line-up")
    assert projector.locator("button, form, input").count() == 0
    with open_log(home.log) as log:
        assert log.session(session.id).praise == 11
