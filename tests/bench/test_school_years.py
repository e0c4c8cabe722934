"""A believable school."""

from datetime import datetime
from pathlib import Path

from companion.bench.school_years import SESSIONS_A_WEEK, WEEKS, ZONE, fill, school
from companion.log.store import open_log
from companion.log.weeks import Within, routine_counts
from companion.weeks.history import history

ENDS = datetime(2026, 6, 12, 16, 0, tzinfo=ZONE)


def test_a_seed_always_gives_the_same_school(tmp_path: Path) -> None:
    """Figures of one day can be compared with those of another."""
    for name in ("one", "two"):
        fill(tmp_path / name / "sessions.db", 40, seed=3, ends=ENDS)
    logs = [open_log(tmp_path / name / "sessions.db") for name in ("one", "two")]
    one, two = ([(s.session, s.class_group, s.margin) for s in log.summaries()] for log in logs)
    assert len(one) == 40
    assert [row[1:] for row in one] == [row[1:] for row in two]
    for log in logs:
        log.close()


def test_what_classes_need_to_be_taught_again_is_found(tmp_path: Path) -> None:
    """Eight classes of forty have a routine that needs it; what is named is one of those."""
    path = tmp_path / "sessions.db"
    fill(path, 10 * SESSIONS_A_WEEK, seed=3, ends=ENDS)
    with open_log(path) as log:
        found = history(log, Within(), ENDS.date())
        marks = sum(count.praise + count.reminder for count in routine_counts(log, Within()))
    assert found.lessons == 10 * SESSIONS_A_WEEK
    assert 10 < marks / found.lessons < 14
    needy = school(3).needy
    named = [(need.cell.class_group, (need.cell.phase, need.cell.routine)) for need in found.needs]
    assert len(named) >= 2
    assert sum(needy.get(group) == routine for group, routine in named) >= 0.9 * len(named)


def test_school_years_have_their_weeks_and_holidays(tmp_path: Path) -> None:
    """Days are school days, and a year holds its weeks."""
    path = tmp_path / "sessions.db"
    fill(path, 80, ends=ENDS)
    with open_log(path) as log:
        days = {summary.opened_at.date() for summary in log.summaries()}
    assert all(day.weekday() < 5 for day in days)
    assert max(days) < ENDS.date()
    assert WEEKS * SESSIONS_A_WEEK == 1260
