"""What the board tells of forgetting."""

from datetime import UTC, datetime, timedelta

from playwright.sync_api import Page, expect

from companion.live.forgetting import forget_due
from companion.log.store import open_log
from companion.paths import Home
from tests.lesson.builders import AT
from tests.log.test_forget import noted
from tests.school_day import SETTINGS, settings


def test_what_was_forgotten_is_told_without_its_words(page: Page, home: Home) -> None:
    """On the day on which it went."""
    now = datetime.now(UTC)
    home.settings.write_text(SETTINGS, encoding="utf-8")
    with open_log(home.log) as log:
        noted(log, days=(AT - now + timedelta(days=90)).days)
    forget_due(home, settings(), now)
    page.goto("./")
    expect(page.locator("#forgotten")).to_contain_text(": 1 individual note.")
    assert "splinter" not in page.content()
