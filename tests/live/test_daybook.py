"""Which lesson the hour asks for, and when an open session gives way to it."""

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from companion.lesson.plan import Phase, Plan
from companion.lesson.session import Session
from companion.live.daybook import Daybook
from companion.log.summary import Summary, summary_of
from tests.school_day import ZONE, settings

BOOK = Daybook(settings(timetable=True))
PLAN = Plan("garden", (Phase("work time", 45),))


def at(clock: str) -> datetime:
    """Return a time of a Monday with 4-Hazel at 8:00, 2-Birch at 8:45, 5-Oak at 9:45, 3-Elm at 13:00."""
    hour, minute = clock.split(":")
    return datetime(2026, 9, 14, int(hour), int(minute), tzinfo=ZONE)


def session(class_group: str, opened: str) -> Session:
    """Return a session that is open."""
    return Session(class_group, class_group, PLAN, at(opened))


def opens(now: str, open_one: Session | None, *before: Summary) -> str:
    """Return the class group whose session opens by itself at `now`."""
    recent = [*before, *([summary_of(open_one)] if open_one else [])]
    opening = BOOK.to_open(at(now), recent, open_one)
    return opening.class_group if opening else ""


@pytest.mark.parametrize(
    ("class_group", "opened", "now", "expected"),
    [
        ("4-Hazel", "8:00", "8:44", ""),
        ("4-Hazel", "8:00", "8:45", "2-Birch"),
        ("4-Hazel", "8:30", "8:45", "2-Birch"),
    ],
)
def test_classes_without_a_minute_between_them_follow_each_other(
    class_group: str, opened: str, now: str, expected: str
) -> None:
    """The class before goes when its own lesson ends, however late it came."""
    assert opens(now, session(class_group, opened)) == expected


def test_a_class_opened_by_hand_in_anothers_place_is_left_in_it() -> None:
    """A swap: 1-Ash came in place of 2-Birch, and goes only when that lesson ends and 5-Oak comes."""
    swapped = session("1-Ash", "8:40")
    assert opens("8:46", swapped) == ""
    assert opens("9:29", swapped) == ""
    assert opens("9:45", swapped) == "5-Oak"


def test_a_class_opened_in_a_lessons_last_quarter_leaves_the_next_class_its_place() -> None:
    """1-Ash, opened at 8:32 in the place of 4-Hazel, goes when 2-Birch comes at 8:45."""
    swapped = session("1-Ash", "8:32")
    assert opens("8:44", swapped) == ""
    assert opens("8:45", swapped) == "2-Birch"


def test_a_class_opened_by_hand_in_free_time_keeps_the_time_of_its_plan() -> None:
    """An extra lesson from 12:30 on is not cut at 13:00; 3-Elm is named as waiting and opens at 13:15."""
    extra = session("1-Ash", "12:30")
    assert opens("13:05", extra) == ""
    coming = BOOK.coming(at("13:05"), [summary_of(extra)])
    assert coming is not None
    assert (coming.class_group, coming.begins) == ("3-Elm", at("13:00"))
    assert opens("13:15", extra) == "3-Elm"


def test_a_place_that_was_given_away_is_not_filled_again() -> None:
    """When the class that came instead is closed by hand, the timetable's own does not open after all."""
    gone = replace(summary_of(session("1-Ash", "8:50")), closed=True)
    assert opens("9:00", None, gone) == ""


def test_a_class_that_came_late_is_listened_to_for_its_whole_plan() -> None:
    """4-Hazel came at 8:40 and is not cut ten minutes after 8:45, where nobody else is waiting."""
    late = session("4-Hazel", "8:40")
    assert not BOOK.is_over(late, at("9:25"))
    assert BOOK.is_over(late, late.opened_at + timedelta(minutes=55))
