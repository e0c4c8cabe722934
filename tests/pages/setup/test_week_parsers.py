"""A week from elsewhere: pasted from a spreadsheet, or out of a calendar file."""

from datetime import UTC, date

import pytest
import tomlkit
from hypothesis import given
from hypothesis import strategies as st

from companion.errors import CompanionError
from companion.lesson.timetable import WEEKDAYS
from companion.pages.setup.calendar import Slot, week_in
from companion.pages.setup.pasted import PastedRow, pasted_week
from companion.pages.setup.week_file import begin_timetable, cells_of, days_of, periods_of, put, rename_period
from companion.settings.settings import parse_settings

DAYS = ("mon", "tue", "wed", "thu", "fri")
PLAN = '[[plans]]\nname = "garden lesson"\nphases = [{ name = "arrival", minutes = 5 }]\n'
CALENDAR = """BEGIN:VCALENDAR
VERSION:2.0
PRODID:-//Alder Lane School//EN
BEGIN:VEVENT
UID:1
SUMMARY:4-Hazel
DTSTART:20260901T083000
DTEND:20260901T091500
RRULE:FREQ=WEEKLY;BYDAY=TU,TH;UNTIL=20270611T000000
END:VEVENT
BEGIN:VEVENT
UID:2
SUMMARY:Staff meeting
DTSTART:20260908T150000
DTEND:20260908T160000
END:VEVENT
BEGIN:VEVENT
UID:3
SUMMARY:2-Birch
DTSTART:20260901T083000
DTEND:20260901T091500
RRULE:FREQ=WEEKLY;COUNT=3
END:VEVENT
BEGIN:VEVENT
UID:4
SUMMARY:Autumn break
DTSTART;VALUE=DATE:20261012
DTEND;VALUE=DATE:20261014
END:VEVENT
END:VCALENDAR
"""


@pytest.mark.parametrize(
    ("text", "rows"),
    [
        ("4-Hazel\t2-Birch\n\t5-Oak", [("", ("4-Hazel", "2-Birch")), ("", ("", "5-Oak"))]),
        ("Period\tMonday\tTue\n1\t4-Hazel\tlunch\n", [("", ("4-Hazel", ""))]),
        ("8:30 - 9:15;4-Hazel;2-Birch", [("08:30-09:15", ("4-Hazel", "2-Birch"))]),
        ("1:05-1:50\t4-Hazel", [("13:05-13:50", ("4-Hazel", ""))]),
    ],
)
def test_a_pasted_week_is_read_as_it_is_meant(text: str, rows: list[tuple[str, tuple[str, ...]]]) -> None:
    """With or without days above and periods before it; noon and lunch are understood."""
    assert pasted_week(text, ("mon", "tue")) == [PastedRow(*row) for row in rows]


@given(st.text(max_size=200), st.integers(1, 6))
def test_whatever_is_pasted_fits_the_week_or_is_told(text: str, days: int) -> None:
    """Each row has a cell for each day."""
    try:
        rows = pasted_week(text, WEEKDAYS[:days])
    except ValueError:
        rows = []
    assert all(len(row.cells) == days for row in rows)


def test_a_calendar_gives_what_comes_every_week() -> None:
    """One meeting is no lesson; what is at a taken time is told; a break is free."""
    week = week_in(CALENDAR.encode(), date(2026, 9, 1), date(2027, 6, 11), UTC)
    assert set(week.slots) == {Slot("tue", "08:30-09:15", "4-Hazel"), Slot("thu", "08:30-09:15", "4-Hazel")}
    assert week.left_out == ("2-Birch",)
    assert week.free == (date(2026, 10, 12), date(2026, 10, 13))


@given(st.binary(max_size=200) | st.text(max_size=200).map(str.encode))
def test_what_is_no_calendar_is_refused(data: bytes) -> None:
    """Also one that is cut off in the middle."""
    for content in (data, CALENDAR.encode()[: len(data) * 3]):
        with pytest.raises(CompanionError):
            week_in(content, date(2026, 9, 1), date(2027, 6, 11), UTC)


@given(
    st.lists(
        st.tuples(st.sampled_from(DAYS), st.sampled_from("123"), st.sampled_from(("", "4-Hazel", "2-Birch"))),
        max_size=20,
    )
)
def test_the_week_in_the_file_is_what_was_put_into_its_cells(changes: list[tuple[str, str, str]]) -> None:
    """Whatever the order; the file is valid after each change, and a renamed period keeps its lessons."""
    document = tomlkit.parse(PLAN)
    spans = ("08:30-09:15", "09:20-10:05", "10:10-10:55")
    timetable = begin_timetable(document, (date(2026, 8, 31), date(2027, 6, 18)), (), spans)
    wanted: dict[tuple[str, str], tuple[str, str]] = {}
    for day, period, class_group in changes:
        put(timetable, day, period, (class_group, ""))
        wanted[day, period] = (class_group, "")
        parse_settings(tomlkit.dumps(document), "companion.toml")
    held = {at: lesson for at, lesson in wanted.items() if lesson[0]}
    assert cells_of(timetable) == held
    rename_period(timetable, "2", "second")
    parse_settings(tomlkit.dumps(document), "companion.toml")
    assert periods_of(timetable) == ["1", "second", "3"]
    assert len(cells_of(timetable)) == len(held)
    assert days_of(timetable) == list(DAYS)
