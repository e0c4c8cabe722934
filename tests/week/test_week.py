"""A day of the week in the suite: all that was said, pressed and typed stands where it belongs."""

from dataclasses import replace
from pathlib import Path

from companion.lesson.mark import Kind, Source
from companion.paths import Home
from tests.lesson.builders import began, praise, told
from tests.week.timetable import FIRST, LAST, SHORT_DAY, settings
from tests.week.truth import Asked, Truth, match
from tests.week.week import Week


def test_nothing_of_a_day_is_lost_or_in_a_wrong_phase(tmp_path: Path) -> None:
    """Voice, keys and pages over four classes, three of them back to back, with a fault in each but one."""
    week = Week(Home(tmp_path / "home").create(), 1, SHORT_DAY, SHORT_DAY)
    ((_, figures),) = list(week.days())
    assert week.troubles == []
    assert (figures["lost"], figures["wrong phase"]) == (0, 0)
    assert figures["lessons"] == 4
    assert figures["heard"] >= figures["said"] / 2
    assert figures["keys"] > 4
    assert figures["clicks"] > 4


def test_the_week_is_as_it_is_told() -> None:
    """35 lessons: a short Friday, another offset after the Sunday, nothing on the holiday."""
    section = settings().timetable
    assert section is not None
    timetable = section.timetable()
    held = {day: timetable.lessons_on(day) for day in timetable.days if FIRST <= day <= LAST}
    assert [len(lessons) for lessons in held.values()] == [7, 7, 4, 7, 7, 3]
    assert len({lessons[0].begins.utcoffset() for lessons in held.values()}) == 2


SAID = Asked(Source.VOICE, Kind.PRAISE, 60_000, "arrival", "praise")
PRESSED = Asked(Source.KEY, Kind.REMINDER, 90_000, "arrival")
TRUTH = Truth("", "4-Hazel", 0.0, [(0, "arrival")], [SAID, PRESSED])


def test_the_rig_sees_what_is_lost_false_or_in_a_wrong_phase() -> None:
    """A mark that is stamped too late, one that nobody made, and one that is not there."""
    heard = replace(praise(60_400), phrase="praise")
    right = match(TRUTH, told(began("arrival", 0), heard, praise(300_000)))
    assert [asked for asked, _ in right.pairs] == [SAID]
    assert right.missing == [PRESSED]
    assert [mark.at_ms for mark in right.false] == [300_000]
    assert right.wrong_phase == []
    late = match(TRUTH, told(began("arrival", 0), began("work time", 59_000), heard))
    assert [mark.stamped_phase for _, mark in late.wrong_phase] == ["work time"]
