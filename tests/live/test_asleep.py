"""A computer that sleeps in mid-lesson, as when its lid is closed."""

import time
from pathlib import Path

import pytest

from companion.clock import steady_s
from companion.lesson.doubts import Doubt, doubts_of
from companion.lesson.mark import Source
from companion.lesson.span import STOOD_STILL
from companion.log.store import open_log
from tests.live.room import HAZEL, PRAISE, Room
from tests.waiting import until

SLEEP_S = 600.0


@pytest.fixture
def lid(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """Give how long this computer has slept; Linux' own clocks are told so, and only one of them passes."""
    slept_s, real = [0.0], time.clock_gettime
    monkeypatch.setattr(
        time, "clock_gettime", lambda clock: real(clock) + slept_s[0] * (clock == time.CLOCK_BOOTTIME)
    )
    return slept_s


def test_the_time_asleep_passes_in_the_lesson_was_not_heard_and_makes_keys_doubtful(
    lid: list[float], tmp_path: Path
) -> None:
    """`time.monotonic` stands still meanwhile; marks afterwards have their place all the same."""
    room = Room(tmp_path)
    session = room.live.open(HAZEL, Source.KEY).result()
    room.hears_something()
    awake_s = time.monotonic()
    lid[0] = SLEEP_S
    room.live.ask(PRAISE, Source.KEY, steady_s()).result()
    assert time.monotonic() - awake_s < SLEEP_S / 2

    def slept() -> bool:
        with open_log(room.path) as log:
            return any(gap.reason == STOOD_STILL and gap.ended_ms for gap in log.session(session.id).unheard)

    assert until(slept)
    room.hears_something()
    room.live.stop()
    with open_log(room.path) as log:
        session = log.session(session.id)
    stretch = next(gap for gap in session.unheard if gap.reason == STOOD_STILL)
    assert stretch.ended_ms is not None
    assert stretch.ended_ms - stretch.began_ms >= SLEEP_S * 1000
    (mark,) = session.marks
    assert mark.at_ms >= SLEEP_S * 1000
    assert Doubt.LATE in doubts_of(session, mark)
