"""How long the log keeps what is about children."""

from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from companion.settings.keeping import KeepingSection
from companion.settings.settings import parse_settings

TERM = """
[[plans]]
name = "p"
phases = [{ name = "arrival", minutes = 3 }]
[timetable]
begins = 2026-08-24
ends = 2027-06-11
hours.usual = { 1 = "08:30-09:15" }
"""


def test_notes_go_sixty_days_after_their_lesson() -> None:
    """Unless the settings say otherwise."""
    now = datetime(2026, 12, 1, 16, 0, tzinfo=UTC)
    assert KeepingSection().notes_before(now) == datetime(2026, 10, 2, 16, 0, tzinfo=UTC)
    assert KeepingSection(individual_notes_days=1).notes_before(now) == datetime(
        2026, 11, 30, 16, 0, tzinfo=UTC
    )


@pytest.mark.parametrize(
    ("opened", "goes"),
    [
        (date(2026, 9, 14), date(2027, 9, 29)),
        (date(2027, 7, 31), date(2027, 9, 29)),
        (date(2027, 8, 1), date(2028, 9, 29)),
    ],
)
def test_a_session_goes_sixty_days_after_its_school_year(opened: date, goes: date) -> None:
    """Which ends on the last day of July where no timetable says so."""
    assert KeepingSection().session_goes(opened, None) == goes


def test_the_timetables_last_day_counts_for_its_own_lessons() -> None:
    """A session outside of it goes by the usual day; one that is kept always never goes."""
    timetable = parse_settings(TERM, "companion.toml").timetable
    assert timetable is not None
    assert KeepingSection().session_goes(date(2026, 9, 14), timetable) == date(2027, 8, 10)
    assert KeepingSection().session_goes(date(2027, 6, 12), timetable) == date(2027, 9, 29)
    assert KeepingSection(sessions="always").session_goes(date(2026, 9, 14), timetable) is None


@pytest.mark.parametrize("day", ["02-29", "13-01", "7-31", "soon"])
def test_the_school_year_ends_on_a_day_of_every_year(day: str) -> None:
    """The 29th of February is none."""
    with pytest.raises(ValidationError):
        KeepingSection(school_year_ends=day)


@given(
    st.dates(date(2020, 1, 1), date(2040, 1, 1)),
    st.integers(1, 2_000),
    st.dates(date(2027, 1, 1), date(2027, 12, 31)),
    st.booleans(),
)
def test_what_was_opened_before_the_oldest_day_is_to_go_already(
    today: date, days: int, ends: date, by_timetable: bool
) -> None:
    """So that a look for what will go soon needs to look no further back."""
    keeping = KeepingSection(school_year_ends=f"{ends:%m-%d}")
    timetable = parse_settings(TERM, "companion.toml").timetable if by_timetable else None
    goes = keeping.session_goes(keeping.oldest(today, timetable) - timedelta(days=days), timetable)
    assert goes is not None
    assert goes <= today
