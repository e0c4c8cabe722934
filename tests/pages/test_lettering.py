"""Which letters the pages can draw."""

from companion.background.doctor import _lettering
from companion.pages.house import Verdict
from companion.pages.lettering import undrawable
from companion.settings.settings import parse_settings
from tests.school_day import SETTINGS

NOBODYS = "\ue123"
"""A letter of no script."""


def test_what_comes_with_the_program_draws_most_scripts() -> None:
    """Latin with its accents, and ten scripts beside it."""
    assert undrawable(["4-Hazel", "Żółw", "Ялина", "Ελιά", "شجرة", "עץ", "पेड़"]) == ""
    assert undrawable(["மரம்", "ต้นไม้", "ხე", "ዛፍ"]) == ""


def test_a_name_that_no_font_draws_is_told_by_the_doctor() -> None:
    """The letter is named, and what to install; a lesson can be held all the same."""
    assert undrawable([f"4-{NOBODYS}{NOBODYS}"]) == NOBODYS
    assert _lettering(parse_settings(SETTINGS, "companion.toml")).verdict is Verdict.GOOD
    finding = _lettering(parse_settings(SETTINGS.replace("cleanup", NOBODYS), "companion.toml"))
    assert finding.verdict is Verdict.WARNING
    assert NOBODYS in finding.words
    assert "fonts-noto-cjk" in finding.remedy
