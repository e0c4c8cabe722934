"""The quiet nudge: off by default, for the teacher alone."""

import pytest

from companion.lesson import event as ev
from companion.lesson.mark import Source
from companion.lesson.nudge import NudgeWish, nudges
from tests.lesson.builders import began, praise, reminder, told

ALL = NudgeWish(8, phase_without_mark=True, more_reminders=True)
MINUTE = 60_000


@pytest.mark.parametrize(
    ("bodies", "minutes", "said"),
    [
        ((began("arrival", 0),), 7, ""),
        ((began("arrival", 0),), 8, "No praise for 8 minutes."),
        ((began("arrival", 0), praise(5 * MINUTE)), 12, ""),
        ((began("arrival", 0), began("work time", 4 * MINUTE)), 5, "arrival ended without a mark."),
        ((began("arrival", 0), began("work time", 4 * MINUTE)), 7, ""),
        ((began("arrival", 0), praise(MINUTE), began("work time", 4 * MINUTE)), 5, ""),
        (
            (began("arrival", 0), praise(1), reminder(2), reminder(3)),
            1,
            "More reminders than praise so far: 2 to 1.",
        ),
        ((began("arrival", 0), reminder(2), reminder(3)), 1, ""),
        ((began("arrival", 0), praise(1), praise(2), reminder(3), reminder(4)), 1, ""),
        (
            (began("arrival", 0), praise(1), began("work time", 2), praise(3), began("cleanup", 4 * MINUTE)),
            6,
            "",
        ),
        (
            (began("arrival", 0), praise(1), began("work time", 2), began("cleanup", 4 * MINUTE)),
            6,
            "work time ended without a mark.",
        ),
        ((began("arrival", 0), ev.ListeningPaused(1, Source.KEY)), 20, ""),
        ((began("arrival", 0), ev.SessionClosed(1, Source.KEY)), 20, ""),
    ],
)
def test_a_nudge_is_said_when_it_is_due(bodies: tuple[ev.Body, ...], minutes: int, said: str) -> None:
    """No praise for long, a phase without any mark, more reminders than praise; none when nobody works."""
    assert " ".join(one.words for one in nudges(told(*bodies), minutes * MINUTE, ALL)) == said


def test_nothing_is_said_unless_it_was_asked_for() -> None:
    """It is off as it comes."""
    session = told(began("arrival", 0), reminder(1), reminder(2), reminder(3), began("cleanup", 4))
    assert nudges(session, 50 * MINUTE, NudgeWish()) == ()


def test_the_reason_stays_while_the_minutes_go_on() -> None:
    """So a tone sounds once for it; and two things are said side by side."""
    session = told(began("arrival", 0), reminder(1), reminder(2), reminder(3))
    first, later = (nudges(session, minutes * MINUTE, ALL) for minutes in (8, 9))
    assert [one.reason for one in first] == [one.reason for one in later] == ["no praise", "more reminders"]
    assert first[0].words != later[0].words
