"""Which class comes when, on weekdays and in a rotation, whatever the clocks do."""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.lesson.timetable import USUAL, Change, Entry, Lesson, Timetable, weekday

ZONE = ZoneInfo("America/New_York")
MONDAY = date(2026, 8, 24)
USUAL_HOURS = {
    "1": (time(8, 30), time(9, 15)),
    "2": (time(9, 15), time(10, 0)),
    "3": (time(13, 0), time(13, 45)),
}
HOURS = {USUAL: USUAL_HOURS, "early": {"1": (time(8, 30), time(9)), "2": (time(9), time(9, 30))}}


def at(on: date, clock: str) -> datetime:
    """Return a moment by the school's clock."""
    return datetime.combine(on, time.fromisoformat(clock), ZONE)


def shown(lessons: tuple[Lesson, ...]) -> list[str]:
    """Return lessons as `08:30-09:15 4-Hazel`."""
    return [f"{x.begins:%H:%M}-{x.ends:%H:%M} {x.class_group}" for x in lessons]


WEEKDAYS = Timetable(
    ZONE,
    MONDAY,
    date(2027, 6, 11),
    HOURS,
    (
        Entry("mon", "1", "4-Hazel", "garden", "Garden room"),
        Entry("mon", "2", "2-Birch"),
        Entry("mon", "3", "5-Alder"),
        Entry("wed", "1", "3-Rowan"),
    ),
    weekly_hours={"wed": "early"},
    no_school=frozenset({date(2026, 9, 7)}),
    changes={
        date(2026, 9, 14): Change(hours="early"),
        date(2026, 9, 21): Change(cancelled=frozenset({"2"}), entries=(Entry("", "3", "1-Willow"),)),
        date(2026, 9, 26): Change(day="mon"),
    },
)

ROTATION = Timetable(
    ZONE,
    MONDAY,
    date(2027, 6, 11),
    HOURS,
    tuple(Entry(day, "1", f"class {day}") for day in "ABCDEF"),
    rotation=tuple("ABCDEF"),
    no_school=frozenset({date(2026, 8, 26), date(2026, 9, 7)}),
)


def test_a_weekday_has_its_lessons_in_order() -> None:
    """A date has the lessons of its weekday, with plan and room, in order of time."""
    assert shown(WEEKDAYS.lessons_on(MONDAY)) == [
        "08:30-09:15 4-Hazel",
        "09:15-10:00 2-Birch",
        "13:00-13:45 5-Alder",
    ]
    first = WEEKDAYS.lessons_on(MONDAY)[0]
    assert (first.plan, first.room, first.period) == ("garden", "Garden room", "1")


@pytest.mark.parametrize(
    ("on", "lessons"),
    [
        (date(2026, 8, 26), ["08:30-09:00 3-Rowan"]),
        (date(2026, 9, 7), []),
        (date(2026, 9, 14), ["08:30-09:00 4-Hazel", "09:00-09:30 2-Birch"]),
        (date(2026, 9, 21), ["08:30-09:15 4-Hazel", "13:00-13:45 1-Willow"]),
        (date(2026, 9, 26), ["08:30-09:15 4-Hazel", "09:15-10:00 2-Birch", "13:00-13:45 5-Alder"]),
        (date(2026, 8, 22), []),
        (date(2026, 8, 30), []),
        (date(2027, 6, 14), []),
    ],
)
def test_dates_that_go_differently(on: date, lessons: list[str]) -> None:
    """Early release weekly or once, no school, a cancelled or swapped lesson, a Saturday held as Monday."""
    assert shown(WEEKDAYS.lessons_on(on)) == lessons


def test_back_to_back_classes_change_on_the_minute() -> None:
    """With no minute between two classes, the moment of change belongs to the later one."""
    due = [WEEKDAYS.due(at(MONDAY, clock)) for clock in ("08:29", "08:30", "09:14", "09:15", "10:00")]
    assert [x and x.class_group for x in due] == [None, "4-Hazel", "4-Hazel", "2-Birch", None]


def test_the_next_lesson_may_be_days_away() -> None:
    """After a day's last lesson the next is on the next day with lessons; after the year there is none."""
    following = WEEKDAYS.next_after(at(MONDAY, "13:00"))
    assert following is not None
    assert (following.class_group, following.begins.date()) == ("3-Rowan", date(2026, 8, 26))
    assert WEEKDAYS.next_after(at(date(2027, 6, 9), "12:00")) is None


def test_a_rotation_skips_days_without_school() -> None:
    """The day after a holiday or a weekend is the day in turn, not the one after it."""
    days = [ROTATION.days.get(MONDAY + timedelta(days=count)) for count in range(16)]
    assert days == ["A", "B", None, "C", "D", None, None, "E", "F", "A", "B", "C", None, None, None, "D"]


def test_a_rotation_goes_on_from_a_day_that_was_set() -> None:
    """An exception that names the day sets the rotation anew, as after a break."""
    changed = replace(ROTATION, changes={date(2026, 9, 1): Change(day="A")}, no_school=frozenset())
    days = [changed.days.get(date(2026, 8, 31) + timedelta(days=count)) for count in range(4)]
    assert days == ["F", "A", "B", "C"]


def test_any_zone_may_ask() -> None:
    """A laptop that thinks in another zone gets the same lesson at the same moment."""
    now = datetime(2026, 8, 24, 12, 35, tzinfo=UTC)
    due = WEEKDAYS.due(now)
    assert due is not None
    assert due == WEEKDAYS.due(now.astimezone(ZoneInfo("Asia/Seoul")))
    assert due.class_group == "4-Hazel"


SHIFT = Timetable(
    ZONE,
    date(2026, 3, 8),
    date(2026, 11, 1),
    {
        USUAL: {
            "1": (time(0, 30), time(1, 15)),
            "2": (time(1, 15), time(2, 30)),
            "3": (time(2, 45), time(3, 45)),
        }
    },
    tuple(Entry("sun", period, f"class {period}") for period in "123"),
    week=frozenset({"sun"}),
)
"""A school whose lessons fall into the hours at which the clocks change."""


@given(
    st.sampled_from([(WEEKDAYS, MONDAY), (ROTATION, MONDAY), (SHIFT, date(2026, 3, 8))]),
    st.integers(0, 80 * 24 * 60),
)
def test_due_and_next_agree_with_the_days(held: tuple[Timetable, date], minutes: int) -> None:
    """At any minute the lesson due holds that minute, and none begins between now and the next one."""
    timetable, begin = held
    now = datetime.combine(begin, time(0), UTC) + timedelta(minutes=minutes)
    span = range(-2, 85)
    every = [x for n in span for x in timetable.lessons_on(begin + timedelta(days=n))]
    assert timetable.due(now) == next((x for x in reversed(every) if x.holds(now)), None)
    later = [x for x in every if x.begins.timestamp() > now.timestamp()]
    following = timetable.next_after(now)
    if later:
        assert following == min(later, key=lambda x: x.begins.timestamp())


@given(st.integers(0, 300))
def test_a_rotation_is_gapless(count: int) -> None:
    """Between any two school days in a row the rotation moves on by exactly one; weekends have no day."""
    names = list(ROTATION.days.values())
    on = MONDAY + timedelta(days=count)
    school = weekday(on) not in ("sat", "sun") and on not in ROTATION.no_school and on <= ROTATION.last
    assert (on in ROTATION.days) == school
    assert all((ROTATION.rotation.index(b) - ROTATION.rotation.index(a)) % 6 == 1 for a, b in pairwise(names))


@pytest.mark.parametrize("on", [date(2026, 3, 8), date(2026, 11, 1), date(2026, 6, 7)])
def test_changing_clocks_move_no_lesson(on: date) -> None:
    """When the clocks change, lessons stay in order and real; one in the skipped hour is not held."""
    lessons = SHIFT.lessons_on(on)
    spring = on == date(2026, 3, 8)
    expected = ["00:30-01:15", "01:15-03:30"] if spring else ["00:30-01:15", "01:15-02:30", "02:45-03:45"]
    assert [f"{x.begins:%H:%M}-{x.ends:%H:%M}" for x in lessons] == expected
    moments = [moment.timestamp() for x in lessons for moment in (x.begins, x.ends)]
    assert moments == sorted(moments)
