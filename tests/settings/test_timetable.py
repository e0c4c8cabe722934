"""The timetable in the settings file."""

from datetime import date, timedelta

import pytest
import tzlocal

from companion.errors import CompanionError
from companion.settings.settings import parse_settings
from tests.systems import needs_posix

PLAN = """
[[plans]]
name = "garden"
phases = [{ name = "arrival", minutes = 5 }]
"""

TIMETABLE = """
[timetable]
begins = 2026-08-24
ends = 2027-06-11
zone = "America/Chicago"
rotation = ["A", "B", "C"]
no_school = [2026-09-07, { from = 2026-12-21, to = 2027-01-01 }]
weekly_hours = { Wednesday = "early release" }

[timetable.hours.usual]
1 = "08:30-09:15"
2 = "9:15 - 10:00"

[timetable.hours."early release"]
1 = "08:30-09:00"

[[timetable.lessons]]
day = ["a", "C"]
period = "1"
class_group = "4-Hazel"
plan = "garden"
room = "Garden room"

[[timetable.lessons]]
day = "A"
period = "2"
class_group = "2-Birch"

[[timetable.exceptions]]
date = 2026-08-25
day = "C"
cancel = ["2"]
lessons = [{ period = "1", class_group = "5-Alder" }]
"""


def test_a_timetable_is_read() -> None:
    """A rotation with holidays, weekly early release and an exception gives each date its lessons."""
    section = parse_settings(PLAN + TIMETABLE, "companion.toml").timetable
    assert section is not None
    timetable = section.timetable()
    shown = {
        day: [f"{x.begins:%H:%M} {x.class_group}" for x in timetable.lessons_on(date(2026, 8, day))]
        for day in range(24, 28)
    }
    assert shown == {
        24: ["08:30 4-Hazel", "09:15 2-Birch"],
        25: ["08:30 5-Alder"],
        26: ["08:30 4-Hazel"],
        27: [],
    }
    assert timetable.lessons_on(date(2026, 12, 24)) == ()


@pytest.mark.parametrize(
    ("right", "wrong", "reason"),
    [
        ('"08:30-09:15"', '"08:30-24:15"', r"hours.usual.1: '08:30-24:15' is not a time of the day"),
        ('"08:30-09:15"', '"09:30-09:15"', "ends before it begins"),
        ('"08:30-09:15"', '"08:30-09:20"', "the periods 1 and 2 overlap on day A"),
        ("usual", "normal", "hours.usual is missing"),
        ('Wednesday = "early release"', 'Wensday = "early release"', "'Wensday' is not a weekday"),
        ('{ Wednesday = "early release" }', '{ wed = "short" }', r"add \[timetable.hours.short\]"),
        ('day = "A"', 'day = "D"', "comes on day 'D'; there is none: write one of A, B, C"),
        ('period = "2"', 'period = "9"', "period '9', which no hours have"),
        ('period = "2"', 'period = "1"', "4-Hazel and 2-Birch both come on day A"),
        ('plan = "garden"', 'plan = "kitchen"', "the plan 'kitchen', which is not there"),
        ('["A", "B", "C"]', '["A", "B", "a"]', "same name"),
        ("America/Chicago", "America/Alder", "not a time zone"),
        ("ends = 2027-06-11", "ends = 2026-06-11", "no school year"),
        ("to = 2027-01-01", "to = 2026-01-01", "the earlier date comes first"),
        ("date = 2026-08-25", "date = 2026-09-07", "is in no_school"),
        ("date = 2026-08-25", "date = 2028-08-25", "outside the school year"),
        ('cancel = ["2"]', 'cancel = ["7"]', "names period '7'"),
        ('day = "C"\ncancel', 'day = "X"\ncancel', "held as day 'X'"),
        ("rotation =", "rotations =", "this key is not known"),
    ],
)
def test_a_wrong_timetable_is_refused_with_a_remedy(right: str, wrong: str, reason: str) -> None:
    """Each mistake names the file, what is wrong, and what to do."""
    assert right in TIMETABLE
    with pytest.raises(CompanionError, match=reason) as refused:
        parse_settings(PLAN + TIMETABLE.replace(right, wrong, 1), "companion.toml")
    assert "companion.toml: timetable" in str(refused.value) or "plan" in reason


def test_a_lesson_on_a_day_without_school_is_refused_until_the_week_has_it() -> None:
    """Silence would leave the class without its lesson."""
    saturday = """
[timetable]
begins = 2026-08-24
ends = 2027-06-11
hours.usual = { 1 = "08:30-09:15" }
lessons = [{ day = "saturday", period = "1", class_group = "4-Hazel" }]
"""
    with pytest.raises(CompanionError, match="comes on sat, which is no school day"):
        parse_settings(PLAN + saturday, "companion.toml")
    section = parse_settings(PLAN + saturday + 'week = ["mon", "sat"]\n', "companion.toml").timetable
    assert section is not None
    assert [lesson.class_group for lesson in section.timetable().lessons_on(date(2026, 8, 29))] == ["4-Hazel"]


def test_two_exceptions_for_one_date_are_refused() -> None:
    """A date can go differently in one way only."""
    with pytest.raises(CompanionError, match="two exceptions for 2026-08-25"):
        parse_settings(f"{PLAN}{TIMETABLE}\n[[timetable.exceptions]]\ndate = 2026-08-25\n", "companion.toml")


@needs_posix
def test_without_a_zone_the_computer_s_own_holds(monkeypatch: pytest.MonkeyPatch) -> None:
    """A teacher need not know what the time zone is called."""
    monkeypatch.setenv("TZ", "Europe/Madrid")
    tzlocal.reload_localzone()
    section = parse_settings(
        PLAN + TIMETABLE.replace('zone = "America/Chicago"', ""), "companion.toml"
    ).timetable
    assert section is not None
    begins = section.timetable().lessons_on(date(2026, 8, 24))[0].begins
    monkeypatch.undo()
    tzlocal.reload_localzone()
    assert begins.utcoffset() == timedelta(hours=2)
