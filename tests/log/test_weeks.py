"""Weeks of lessons, counted by SQLite."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from companion.lesson import aftercare
from companion.lesson import event as ev
from companion.lesson.command import Action, Command
from companion.lesson.mark import Kind, Source
from companion.lesson.trends import LessonHeld, RoutineCount
from companion.log.store import SessionLog, open_log
from companion.log.weeks import (
    AfterLessons,
    Earned,
    GroupMarks,
    HourCount,
    MarginCount,
    PhaseLook,
    PhraseHeard,
    PhraseHour,
    SourceCount,
    Unit,
    Within,
    after_lessons,
    earned,
    first_day,
    group_marks,
    hour_counts,
    lessons_held,
    margins,
    mark_sources,
    phase_looks,
    phrase_hours,
    phrases_heard,
    routine_counts,
    taught_again,
)
from tests.lesson.builders import PLAN, began, praise, reminder

MONDAY = datetime(2026, 9, 14, 9, 10, tzinfo=UTC)
CLOSED = ev.SessionClosed(1_800_000, Source.KEY)


def hold(log: SessionLog, week: int, *bodies: ev.Body, class_group: str = "4-Hazel") -> str:
    """Hold a lesson in a week, with these events between its opening and its end."""
    at = MONDAY + timedelta(weeks=week)
    session = log.open_session(ev.SessionOpened(class_group, PLAN), at)
    for body in (began("arrival", 0), *bodies, CLOSED):
        log.append(session.id, body, at=at, offset_ms=0)
    return session.id


@pytest.fixture
def log(tmp_path: Path) -> Iterator[SessionLog]:
    """Return an empty log."""
    with open_log(tmp_path / "sessions.db") as opened:
        yield opened


def test_a_phase_that_was_held_without_a_mark_is_counted_as_held(log: SessionLog) -> None:
    """Coverage counts what nobody judged; a phase that was left out is not held."""
    hold(log, 0, praise(1_000, routine="boots at the door"), praise(1_100), began("work time", 2_000))
    hold(log, 1, reminder(1_000))
    assert phase_looks(log, Within()) == [
        PhaseLook("arrival", 0, 2, 2, 2, 1, 1),
        PhaseLook("work time", 1, 1, 0, 0, 0, 0),
    ]


def test_lessons_are_chosen_by_class_group_day_and_who_taught(log: SessionLog) -> None:
    """The last day belongs to the span; a guest's lesson only where it is asked for; an open one never."""
    one = hold(log, 0, praise(1_000))
    two = hold(log, 1, class_group="4-Rowan")
    guest = hold(log, 2)
    log.append(guest, aftercare.SessionTaught(by_guest=True), at=MONDAY, offset_ms=0)
    log.open_session(ev.SessionOpened("4-Hazel", PLAN), MONDAY + timedelta(weeks=3))

    def ids(within: Within) -> list[str]:
        return [lesson.id for lesson in lessons_held(log, within)]

    assert ids(Within()) == [one, two]
    assert ids(Within(guests=True)) == [one, two, guest]
    assert ids(Within("4-Rowan")) == [two]
    assert ids(Within(since="2026-09-15", until="2026-09-21")) == [two]
    assert ids(Within(until="2026-09-14")) == [one]
    assert lessons_held(log, Within("4-Hazel"))[0] == LessonHeld(one, "4-Hazel", PLAN.name, "2026-09-14")
    assert routine_counts(log, Within()) == [RoutineCount(one, "arrival", "", 1, 0)]
    assert margins(log, Within("4-Hazel")) == [MarginCount(1, 1)]


def test_phrases_tell_what_reviews_made_of_them(log: SessionLog) -> None:
    """Kept is right, dropped is false, a confirmed near miss was said and missed."""
    session = hold(
        log,
        0,
        praise(1_000),
        praise(2_000),
        ev.NearMissHeard("praise", 3_000, 0.4, Command(Action.PRAISE), "vosk"),
        reminder(4_000),
    )
    read = log.session(session)
    log.append(session, ev.MarkDropped(read.marks[1].id), at=MONDAY, offset_ms=0)
    log.append(session, ev.NearMissConfirmed(read.near_misses[0].id, Kind.PRAISE), at=MONDAY, offset_ms=0)
    assert [phrase.corrected for phrase in phrases_heard(log, Within())] == [2, 0]
    assert phrases_heard(log, Within()) == [
        PhraseHeard("praise", correct=1, wrong=1, missed=1),
        PhraseHeard("reminder", correct=1, wrong=0, missed=0),
    ]


def test_marks_tell_where_they_came_from(log: SessionLog) -> None:
    """By voice, by key, and late in the review."""
    key = ev.MarkMade(Kind.PRAISE, 1_000, Source.KEY)
    session = hold(log, 0, praise(1_000), praise(2_000), key)
    log.append(session, ev.MarkAdded(Kind.REMINDER, "arrival"), at=MONDAY, offset_ms=0)
    assert mark_sources(log, Within()) == [
        SourceCount("voice", late=False, marks=2),
        SourceCount("key", late=False, marks=1),
        SourceCount("review", late=True, marks=1),
    ]
    assert hour_counts(log, Within()) == [HourCount(9, 1, 3, 1)]


def test_what_was_taught_again_is_found_newest_first(log: SessionLog) -> None:
    """Each with the lesson and the day."""
    one, two = hold(log, 0), hold(log, 1)
    for session in (one, two):
        log.append(session, aftercare.RoutineTaughtAgain("cleanup", "tools back"), at=MONDAY, offset_ms=0)
    assert [(taught.session, taught.day, taught.routine) for taught in taught_again(log, Within())] == [
        (two, "2026-09-21", "tools back"),
        (one, "2026-09-14", "tools back"),
    ]


def test_time_after_lessons_is_counted_from_step_to_step(log: SessionLog) -> None:
    """A long pause is none of it, nor what was recorded in the lesson."""
    session = hold(log, 0, praise(1_000), reminder(2_000))
    at = MONDAY + timedelta(hours=3)
    for body, seconds in (
        (ev.MarkDropped("m3"), 0),
        (ev.MarkDropped("m4"), 8),
        (ev.SelfRated("went well"), 30),
        (ev.SessionSettled(), 1_800),
    ):
        log.append(session, body, at=at + timedelta(seconds=seconds), offset_ms=0)
    found = after_lessons(log, Within())
    assert (found.lessons, found.steps, found.work_s) == (1, 4, 30)
    assert after_lessons(log, Within("4-Rowan")) == AfterLessons(0, 0, 0.0)


def test_what_was_put_right_is_told_by_phrase_and_hour(log: SessionLog) -> None:
    """Phrases that were always heard right are left out."""
    session = hold(log, 0, praise(1_000), reminder(2_000))
    log.append(session, ev.MarkDropped("m4"), at=MONDAY, offset_ms=0)
    assert phrase_hours(log, Within()) == [PhraseHour("reminder", 9, 0, 1, 0)]


def test_what_was_earned_is_told_by_week_month_and_half_year(log: SessionLog) -> None:
    """By the Monday of the week, the first of the month or half-year; two weeks of one month are one."""
    hold(log, 0, praise(1_000), praise(2_000), reminder(3_000))
    hold(log, 0, praise(1_000), class_group="4-Rowan")
    hold(log, 1, reminder(1_000))
    assert earned(log, Within()) == [Earned("2026-09-14", "", 2, 3, 1), Earned("2026-09-21", "", 1, 0, 1)]
    assert earned(log, Within(), Unit.MONTH) == [Earned("2026-09-01", "", 3, 3, 2)]
    assert earned(log, Within(), Unit.HALF_YEAR) == [Earned("2026-07-01", "", 3, 3, 2)]
    assert first_day(log, Within()) == MONDAY.date()
    assert first_day(log, Within("5-Oak")) is None
    assert group_marks(log, Within()) == [GroupMarks("4-Hazel", 2, 2, 2), GroupMarks("4-Rowan", 1, 1, 0)]
