"""What the pages write when no lesson is going on in their own process."""

from datetime import timedelta

import pytest
from starlette.datastructures import FormData
from ulid import ULID

from companion.errors import CompanionError
from companion.lesson import event as ev
from companion.lesson.command import Action, Command
from companion.log.store import open_log
from companion.pages.desk import LATEST_S, ago_of
from companion.pages.port import LogPort
from companion.paths import Home
from tests.pages.lessons import BODIES, OPENED, write_lesson


def test_a_wish_that_comes_again_is_recorded_once(home: Home) -> None:
    """The page's own id makes a lost answer harmless, also after a restart."""
    session = write_lesson(home.log, *BODIES)
    wish = str(ULID())
    for _ in range(2):
        port = LogPort(home.log, lambda: OPENED + timedelta(minutes=43))
        after = port.submit(session.id, Command(Action.PRAISE), request=wish)
        assert after.praise == session.praise + 1
    kept = str(ULID())
    for _ in range(2):
        after = port.append(session.id, (ev.MarkKept("m3"), ev.MarkKept("m5")), request=kept)
    assert after.last_seq == session.last_seq + 3


def test_a_press_that_came_late_counts_for_its_own_moment(home: Home) -> None:
    """In the phase that was on then; never before the lesson."""
    session = write_lesson(home.log, *BODIES)
    port = LogPort(home.log, lambda: OPENED + timedelta(minutes=43))
    for ago_s, at_ms in ((20.0, 43 * 60_000 - 20_000), (9_999.0, 0)):
        after = port.submit(session.id, Command(Action.PRAISE), request=str(ULID()), ago_s=ago_s)
        assert at_ms in [mark.at_ms for mark in after.marks]
        assert after.last_ms == 43 * 60_000


@pytest.mark.parametrize(
    ("said", "ago_s"),
    [("", 0.0), ("2500", 2.5), ("-4", 0.0), ("1e9", 0.0), ("٣", 0.0), ("9" * 400, LATEST_S), ("soon", 0.0)],
)
def test_how_long_ago_a_press_was_is_read_or_taken_for_now(said: str, ago_s: float) -> None:
    """Whatever a form brings: the press counts."""
    assert ago_of(FormData({"ago_ms": said})) == ago_s


def test_several_steps_are_recorded_together_or_not_at_all(home: Home) -> None:
    """One step that the session can't take leaves no other behind."""
    session = write_lesson(home.log)
    port = LogPort(home.log, lambda: OPENED)
    with pytest.raises(CompanionError, match="m999"):
        port.append(session.id, (ev.MarkKept("m3"), ev.MarkKept("m999")), request=str(ULID()))
    with open_log(home.log) as log:
        assert log.session(session.id).last_seq == session.last_seq


def test_a_wall_clock_that_went_back_does_not_disorder_the_log(home: Home) -> None:
    """A step is never dated before what is recorded already."""
    session = write_lesson(home.log, *BODIES)
    port = LogPort(home.log, lambda: OPENED - timedelta(hours=1))
    after = port.submit(session.id, Command(Action.PRAISE), request=str(ULID()))
    assert after.last_ms == session.last_ms


@pytest.mark.parametrize(
    "command", [Command(Action.PRAISE), Command(Action.PHASE, phase="opening"), Command(Action.PAUSE)]
)
def test_a_window_left_open_over_night_changes_nothing_of_a_lesson_that_is_over(
    home: Home, command: Command
) -> None:
    """A wish that waited, or a second window: it is refused, and the last phase is not stretched."""
    session = write_lesson(home.log)
    port = LogPort(home.log, lambda: OPENED + timedelta(hours=26))
    with pytest.raises(CompanionError, match="the lesson is over") as refused:
        port.submit(session.id, command, request=str(ULID()))
    assert "review" in refused.value.remedy
    with open_log(home.log) as log:
        assert log.session(session.id) == session
