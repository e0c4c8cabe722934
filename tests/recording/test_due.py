"""What is to be forgotten by now, and what is told of it."""

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest

from companion.lesson.event import SessionOpened
from companion.log.forget import SESSIONS, take_out, whole_sessions
from companion.log.store import SessionLog, open_log
from companion.recording.due import due_sessions, told
from companion.settings.keeping import GRACE_DAYS, NOTICE_DAYS
from companion.settings.settings import parse_settings
from tests.school_day import EIGHT, SETTINGS, ZONE, settings

GOES = date(2027, 7, 31) + timedelta(days=GRACE_DAYS)
"""The day on which a session of 2026-09-14 goes."""


@pytest.fixture
def log(tmp_path: Path) -> Iterator[SessionLog]:
    """Give a log with a session of one school year, and one of the next."""
    with open_log(tmp_path / "sessions.db") as opened:
        for opens in (EIGHT, EIGHT + timedelta(days=365)):
            opened.open_session(SessionOpened("4-Hazel", settings().plan()), opens)
        yield opened


def noon(day: date) -> datetime:
    """Return noon of a day."""
    return datetime(day.year, day.month, day.day, 12, tzinfo=ZONE)


def test_a_session_goes_on_its_day_and_not_before(log: SessionLog) -> None:
    """Never, where the settings say so."""
    old = log.summaries()[-1].session
    assert due_sessions(log, settings(), noon(GOES - timedelta(days=1))) == []
    assert due_sessions(log, settings(), noon(GOES)) == [old]
    always = parse_settings(SETTINGS + '[keeping]\nsessions = "always"\n', "test.toml")
    assert due_sessions(log, always, noon(GOES)) == []


def test_what_will_go_soon_is_told_a_month_before_and_what_went_for_a_day(log: SessionLog) -> None:
    """What is due already is no news any more."""
    first = GOES - timedelta(days=NOTICE_DAYS)
    assert told(log, settings(), noon(first - timedelta(days=1))) == []
    (soon,) = told(log, settings(), noon(first))
    assert soon.startswith("1 session of a school year that is over will be forgotten within 30 days.")
    assert told(log, settings(), noon(GOES)) == []
    take_out(log, whole_sessions(due_sessions(log, settings(), noon(GOES))), SESSIONS, noon(GOES))
    (gone,) = told(log, settings(), noon(GOES) + timedelta(hours=23))
    assert gone.startswith(f"Forgotten for good on {GOES:%A %d %B}: 1 session")
    assert told(log, settings(), noon(GOES) + timedelta(hours=25)) == []


def test_what_went_on_one_day_is_told_in_one_line(log: SessionLog) -> None:
    """Two sessions that were deleted one after the other are two sessions."""
    for one in log.summaries():
        take_out(log, whole_sessions([one.session]), SESSIONS, noon(GOES))
    (gone,) = told(log, settings(), noon(GOES))
    assert gone == f"Forgotten for good on {GOES:%A %d %B}: 2 sessions."
