"""A session in one row."""

from dataclasses import asdict, replace

from companion.lesson import event as ev
from companion.lesson.mark import Source
from companion.log.summary import Tally, summary_from, summary_of, tallies_of
from tests.lesson.builders import began, praise, reminder, told

CLOSED = ev.SessionClosed(9_000, Source.KEY)


def test_a_summary_comes_back_from_its_row() -> None:
    """SQLite knows neither times nor yes and no."""
    summary = summary_of(told(began("arrival", 0), praise(1_000), CLOSED))
    row = asdict(summary) | {
        "opened_at": summary.opened_at.isoformat(),
        "closed": 1,
        "settled": 0,
        "by_guest": 0,
    }
    assert summary_from(row | {"lists_waiting": 0}) == summary


def test_a_row_of_an_older_log_says_less() -> None:
    """What was not kept then is so: nothing waits, the teacher taught, all unreviewed marks want a look."""
    row = asdict(summary_of(told(began("arrival", 0), praise(1_000), CLOSED)))
    older = {
        name: value for name, value in row.items() if name not in ("lists_waiting", "by_guest", "to_look_at")
    }
    read = summary_from(older | {"opened_at": row["opened_at"].isoformat()})
    assert (read.lists_waiting, read.by_guest, read.to_look_at) == (False, False, 1)


def test_a_lesson_waits_when_it_is_over_not_settled_and_there_is_something_to_see() -> None:
    """One without marks waits for nothing."""
    summary = summary_of(told(began("arrival", 0), praise(1_000), CLOSED))
    assert summary.waits
    assert not replace(summary, closed=False).waits
    assert not replace(summary, settled=True).waits
    assert not summary_of(told(CLOSED)).waits


def test_tallies_count_what_stands_by_phase_and_routine() -> None:
    """Praise and reminders side by side."""
    session = told(
        began("arrival", 0),
        praise(1),
        reminder(2),
        praise(3, routine="boots at the door"),
        ev.MarkDropped("m4"),
    )
    assert tallies_of(session) == [
        Tally("s", "arrival", "", 1, 0),
        Tally("s", "arrival", "boots at the door", 1, 0),
    ]
