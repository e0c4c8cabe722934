"""What axe finds wrong in a page, asked for at the least cost: its script is half a megabyte."""

from typing import Any

from axe_playwright_python.base import AXE_SCRIPT, AxeResults
from playwright.sync_api import Page

Rules = dict[str, object]
STANDARD: Rules = {
    "type": "tag",
    "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
}
CONTRAST: Rules = {"type": "rule", "values": ["color-contrast", "link-in-text-block"]}
"""All that another theme can change."""


def found_wrong(page: Page, rules: Rules) -> str:
    """Return what breaks `rules` in the page as it is, or ""; the script stays in the document."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(f"{AXE_SCRIPT}; 0")
    # What passes is of no use here, and is most of what is found.
    options = {"runOnly": rules, "resultTypes": ["violations"]}
    found: list[Any] = page.evaluate("async (options) => (await axe.run(options)).violations", options)
    return AxeResults({"violations": found}).generate_report() if found else ""
