"""Half-years of lessons summed up."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.lesson import aftercare
from companion.lesson import event as ev
from companion.lesson.mark import Kind, Source
from companion.log import half_years
from companion.log.forget import SESSIONS, take_out, whole_sessions
from companion.log.half_years import begin_of, end_of, whole_halves
from companion.log.rebuild import differing
from companion.log.store import SessionLog, open_log
from companion.log.weeks import (
    Unit,
    Within,
    after_lessons,
    earned,
    group_marks,
    hour_counts,
    margins,
    mark_sources,
    phase_looks,
    phrase_hours,
    phrases_heard,
)
from tests.lesson.builders import PLAN, began, praise, reminder

LOOKS: Sequence[Callable[[SessionLog, Within], object]] = (
    group_marks,
    partial(earned, unit=Unit.HALF_YEAR),
    margins,
    phase_looks,
    phrases_heard,
    phrase_hours,
    mark_sources,
    hour_counts,
    after_lessons,
)
FIRST = datetime(2024, 6, 20, 9, 10, tzinfo=UTC)
DAYS = st.dates(date(2023, 12, 30), date(2026, 7, 2)).map(date.isoformat)


def _hold(log: SessionLog, day: int, group: str, bodies: Sequence[ev.Body], *, over: bool) -> str:
    at = FIRST + timedelta(days=day, hours=day % 5)
    session = log.open_session(ev.SessionOpened(group, PLAN), at).id
    end = (ev.SessionClosed(9_000, Source.KEY),) if over else ()
    log.append_all(session, (began("arrival", 0), *bodies, *end), at=at, offset_ms=9_000)
    return session


def _changes(session: str, log: SessionLog, change: str) -> None:
    at = FIRST + timedelta(days=900)
    bodies: dict[str, tuple[ev.Body, ...]] = {
        "guest": (aftercare.SessionTaught(by_guest=True),),
        "late": (ev.MarkAdded(Kind.REMINDER, "arrival"),),
        "settled": (ev.SelfRated("went well"), ev.SessionSettled()),
        "reopened": (
            ev.SessionSettled(),
            ev.SessionReopened("miscounted"),
            ev.MarkAdded(Kind.PRAISE, "arrival"),
        ),
    }
    if change == "forgotten":
        take_out(log, whole_sessions([session]), SESSIONS, at)
    elif change in bodies:
        log.append_all(session, bodies[change], at=at + timedelta(seconds=7), offset_ms=9_000)


_LESSON = st.tuples(
    st.integers(0, 700),
    st.sampled_from(("4-Hazel", "4-Rowan", "5-Oak")),
    st.lists(st.sampled_from((praise(1_000, routine="boots at the door"), reminder(2_000))), max_size=4),
    st.booleans(),
    st.sampled_from(("nothing", "guest", "late", "settled", "reopened", "forgotten")),
)


@given(st.lists(_LESSON, max_size=7), DAYS, DAYS, st.booleans())
@settings(max_examples=20, deadline=None)
def test_sums_are_what_the_lessons_give_whatever_becomes_of_them(
    lessons: list[tuple[int, str, list[ev.Body], bool, str]], one: str, other: str, guests: bool
) -> None:
    """Late marks, guests, counts that are opened again, whole lessons forgotten; over any days."""
    with TemporaryDirectory() as folder, open_log(Path(folder) / "sessions.db") as log:
        for day, group, bodies, over, change in lessons:
            _changes(_hold(log, day, group, bodies, over=over), log, change if over else "nothing")
        since, until = sorted((one, other))
        within = Within(since=since, until=until, guests=guests)
        told = [look(log, within) for look in LOOKS]
        open_end, last_day = replace(within, until="9999"), replace(within, until=f"{date.max}")
        assert [look(log, open_end) for look in LOOKS] == [look(log, last_day) for look in LOOKS]
        with log.writing() as db:
            assert differing(db) == []
            for sums in half_years.ALL:
                db.execute(f"DELETE FROM {sums.table}")
                every = "substr(opened_at, 1, 10) BETWEEN :since AND :until AND (:guests OR NOT by_guest)"
                whole = {"since": since, "until": until, "guests": guests}
                db.execute(f"INSERT INTO {sums.table} {sums.of_lessons(every)}", whole)
        # Now the sums hold exactly the lessons between the two days, and all of them are asked for.
        assert [look(log, Within(guests=True)) for look in LOOKS] == told


@pytest.mark.parametrize("group", ["4-Hazel", "5-Oak"])
def test_one_class_groups_lessons_are_counted_as_they_are(tmp_path: Path, group: str) -> None:
    """The sums are of all of them together."""
    with open_log(tmp_path / "sessions.db") as log:
        _hold(log, 0, "4-Hazel", [praise(1_000)], over=True)
        _hold(log, 30, "5-Oak", [praise(1_000)], over=True)
        within = replace(Within(), class_group=group)
        assert [marks.class_group for marks in group_marks(log, within)] == [group]
        assert [look.held for look in phase_looks(log, within)] == [1]


@given(DAYS, DAYS)
def test_whole_half_years_lie_within_and_what_is_left_is_less_than_one_at_each_end(
    one: str, other: str
) -> None:
    """The half-years before and after them do not."""
    since, until = sorted((one, other))
    first, last = whole_halves(since, until)
    assert begin_of(first) >= since
    assert date.fromisoformat(end_of(last)) - timedelta(days=1) <= date.fromisoformat(until)
    assert date.fromisoformat(begin_of(first)) - date.fromisoformat(since) < timedelta(days=184)
    assert date.fromisoformat(until) - date.fromisoformat(end_of(last)) < timedelta(days=184)


def test_without_an_end_all_half_years_lie_within() -> None:
    """Also that which goes on."""
    assert whole_halves("0000", "9999") == ("0000-H1", "9998-H2")
    assert whole_halves("0001-01-01", f"{date.max}") == ("0001-H1", "9998-H2")
    assert whole_halves("2025-01-01", "2025-06-30") == ("2025-H1", "2025-H1")
    assert whole_halves("2025-01-02", "2025-12-31") == ("2025-H2", "2025-H2")
