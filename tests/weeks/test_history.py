"""What a look at some weeks tells."""

from datetime import date, datetime
from pathlib import Path

import pytest

from companion.bench.school_years import ZONE, fill
from companion.lesson import aftercare
from companion.log.store import SessionLog, open_log
from companion.log.weeks import Within, lessons_held, routine_counts
from companion.weeks.effect import Turn
from companion.weeks.history import history
from tests.lesson.builders import praise, reminder
from tests.log.test_weeks import MONDAY, hold

TODAY = date(2026, 12, 4)
BAD = (reminder(1_000, routine="boots at the door"), reminder(2_000, routine="boots at the door"))
GOOD = (praise(1_000, routine="boots at the door"),)


def bad_spell(log: SessionLog) -> str:
    """Hold seven lessons with one class group, all bad, and with five others, all good; return the last."""
    last = ""
    for week in range(7):
        for other in range(5):
            hold(log, week, *GOOD, class_group=f"{other}-Oak")
        last = hold(log, week, *BAD)
    return last


@pytest.mark.parametrize(("later", "change"), [(GOOD, Turn.HELPED), (BAD, Turn.NO_CHANGE)])
def test_a_routine_is_found_taught_again_and_followed(tmp_path: Path, later: tuple, change: Turn) -> None:  # type: ignore[type-arg]
    """From the finding over the teaching to what came of it; another class is told nothing of it."""
    with open_log(tmp_path / "sessions.db") as log:
        taught = bad_spell(log)
        (need,) = history(log, Within(), date(2026, 11, 2)).needs
        assert (need.cell.class_group, need.cell.count, need.cell.lessons) == ("4-Hazel", 7, 7)
        log.append(
            taught, aftercare.RoutineTaughtAgain("arrival", "boots at the door"), at=MONDAY, offset_ms=0
        )
        for week in range(7, 11):
            hold(log, week, *later)
        found = history(log, Within("4-Hazel"), TODAY)
        assert history(log, Within("1-Oak"), TODAY).effects == ()
    (one,) = found.effects
    assert (one.effect.lessons, one.effect.change) == (4, change)
    told = "4-Hazel was taught “boots at the door” in arrival again on 26 October 2026. "
    assert one.sentence.startswith(told)
    assert (found.lessons, found.phases[0].phase) == (11, "arrival")


def test_a_look_counts_every_mark_that_stands_in_its_lessons(tmp_path: Path) -> None:
    """Lessons and marks are those of the routines, of all class groups and of one."""
    fill(tmp_path / "sessions.db", 70, ends=datetime(2026, 12, 4, tzinfo=ZONE))
    with open_log(tmp_path / "sessions.db") as log:
        for within in (Within(), Within("2-Rowan"), Within(guests=True), Within(since="2026-11-24")):
            found, counts = history(log, within, TODAY), routine_counts(log, within)
            assert found.lessons == len(lessons_held(log, within)) > 0
            assert found.praise == sum(count.praise for count in counts) > 0
            assert found.reminder == sum(count.reminder for count in counts) > 0


def test_what_was_mended_long_ago_is_not_named(tmp_path: Path) -> None:
    """Only the last weeks say what needs to be taught again."""
    with open_log(tmp_path / "sessions.db") as log:
        bad_spell(log)
        assert history(log, Within(), date(2027, 3, 1)).needs == ()


def test_a_routine_that_never_had_a_mark_can_be_taught_again(tmp_path: Path) -> None:
    """There is little to compare with, and nothing breaks."""
    with open_log(tmp_path / "sessions.db") as log:
        session = hold(log, 0)
        log.append(session, aftercare.RoutineTaughtAgain("cleanup", "tools back"), at=MONDAY, offset_ms=0)
        (one,) = history(log, Within(), TODAY).effects
    assert one.effect.change is Turn.TOO_EARLY
