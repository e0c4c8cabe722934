"""`companion timetable`, as it is typed."""

from pathlib import Path

import pytest
from click.testing import CliRunner

from companion.commands.timetable import timetable
from companion.errors import CompanionError
from companion.paths import Home

SETTINGS = """
[[plans]]
name = "garden"
phases = [{ name = "arrival", minutes = 5 }]
"""
TIMETABLE = """
[timetable]
begins = 2026-08-24
ends = 2027-06-11
zone = "America/Chicago"
rotation = ["A", "B"]
hours = { usual = { 1 = "08:30-09:15" } }
lessons = [{ day = "A", period = "1", class_group = "4-Hazel", plan = "garden", room = "Garden room" }]
no_school = [2026-08-25]
"""


def test_days_are_listed_with_their_lessons(tmp_path: Path) -> None:
    """Each day has its name in the rotation and its lessons; a day without school says so."""
    (tmp_path / "companion.toml").write_text(SETTINGS + TIMETABLE)
    done = CliRunner().invoke(
        timetable, ["2026-08-24", "--days", "3"], obj=Home(tmp_path), catch_exceptions=False
    )
    assert done.output.splitlines() == [
        "mon 2026-08-24 (day A)",
        "  08:30-09:15  4-Hazel · garden · Garden room",
        "tue 2026-08-25  no school",
        "wed 2026-08-26 (day B)",
    ]


def test_without_a_timetable_it_says_how_to_add_one(tmp_path: Path) -> None:
    """Settings without a timetable are no mistake, but there is nothing to show."""
    (tmp_path / "companion.toml").write_text(SETTINGS)
    with pytest.raises(CompanionError, match="no timetable"):
        CliRunner().invoke(timetable, [], obj=Home(tmp_path), catch_exceptions=False)
