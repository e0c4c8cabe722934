"""After any error the state shown is the state that is: each kind of event, wherever a log fails."""

import random
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from ulid import ULID

from companion.errors import CompanionError
from companion.lesson import event as ev
from companion.lesson.fold import Telling
from companion.lesson.mark import Source
from companion.live.state import Listening
from companion.log.plain_errors import LogError
from companion.log.store import SessionLog, open_log
from tests.lesson.any_event import KINDS, built
from tests.live.every_kind import EVERY_KIND
from tests.live.room import HAZEL, PRAISE, Room

WRITE = SessionLog.write
CASES = 1
STAND_INS = {ev.EventLost, ev.NoteForgotten}
"""Nobody records them: salvage and forgetting put them in the place of what is gone."""


class Failing:
    """The log's disk, which fails at a point of writing as often as it is told to."""

    def __init__(self) -> None:
        """Fail not at all."""
        self.point = ""

    def write(self, log: SessionLog, after: Telling, *, expected: int) -> None:
        """Write, unless it fails before, in the midst, or when all is in the log already."""
        if self.point == "before":
            raise LogError("made up")
        if self.point == "midst":
            with log.writing() as db:
                log._insert(after, expected)
                assert db.conn.in_transaction
                raise LogError("made up")
        WRITE(log, after, expected=expected)
        if self.point == "after":
            raise LogError("made up")


@pytest.fixture
def disk(monkeypatch: pytest.MonkeyPatch) -> Failing:
    """Give a disk that can be made to fail."""
    failing = Failing()
    monkeypatch.setattr(
        SessionLog, "write", lambda log, after, *, expected: failing.write(log, after, expected=expected)
    )
    return failing


@pytest.fixture
def room(tmp_path: Path, disk: Failing) -> Iterator[Room]:
    """Give a running companion on that disk."""
    assert not disk.point
    room = Room(tmp_path)
    yield room
    room.live.stop()


def assert_shown_is_what_is(room: Room) -> None:
    """Viewers see the session that the log has, and the ear listens where it is said to."""
    room.live.tick().result()
    state = room.live.state
    with open_log(room.path) as log:
        newest = log.find()
    assert state.session == (None if newest.closed else newest)
    assert state.waits is None
    listens = room.live.level_dbfs is not None
    silent = state.session is None or state.session.paused or state.session.by_guest
    assert listens != silent
    assert listens == (state.listening in (Listening.ON, Listening.TROUBLED))


@pytest.mark.parametrize("point", ["before", "midst", "after"])
def test_no_kind_of_event_leaves_another_state_than_the_log_has(
    room: Room, disk: Failing, point: str
) -> None:
    """A step that was said to be refused, and is asked for again by its name, is recorded once at most."""

    @settings(
        max_examples=CASES,
        deadline=None,
        database=None,
        phases=(Phase.generate,),
        suppress_health_check=list(HealthCheck),
        derandomize=True,
    )
    @given(st.tuples(*(built(kind) for kind in KINDS)), st.randoms(use_true_random=False))
    def each(bodies: tuple[ev.Body, ...], chance: random.Random) -> None:
        for body in chance.sample(bodies, len(bodies)):
            session = room.live.state.session or room.live.open(HAZEL, Source.PAGE).result()
            wish = str(ULID())
            disk.point = point
            with suppress(CompanionError):
                room.live.record(session.id, body, request=wish).result()
            disk.point = ""
            with suppress(CompanionError):
                room.live.record(session.id, body, request=wish).result()
            assert_shown_is_what_is(room)
            with open_log(room.path) as log:
                names = [event.id for event in log.events(session.id)]
            assert len({*names}) == len(names)

    each()


@pytest.mark.parametrize("point", ["before", "midst", "after"])
def test_every_kind_of_event_is_recorded_once_when_it_is_asked_for_again(
    room: Room, disk: Failing, point: str
) -> None:
    """None is left out, none is refused for another reason than the log, and each is shown afterwards."""
    disk.point = point
    kinds: set[type[ev.Body]] = {ev.SessionOpened}
    session = room.live.open(HAZEL, Source.PAGE).result()
    disk.point = ""
    assert_shown_is_what_is(room)
    for step in EVERY_KIND:
        with open_log(room.path) as log:
            body = step(log.session(session.id)) if callable(step) else step
        kinds.add(type(body))
        wish = str(ULID())
        disk.point = point
        with suppress(CompanionError):
            room.live.record(session.id, body, request=wish).result()
        disk.point = ""
        room.live.record(session.id, body, request=wish).result()
        assert_shown_is_what_is(room)
        with open_log(room.path) as log:
            assert [event.body for event in log.events(session.id) if event.id == wish] == [body]
    assert kinds == {*KINDS} - STAND_INS


@pytest.mark.parametrize("point", ["before", "midst", "after"])
def test_what_may_wait_is_written_once_whatever_the_log_said(room: Room, disk: Failing, point: str) -> None:
    """Marks while the disk fails at each point: each is told to wait, and is there once afterwards."""
    session = room.live.open(HAZEL, Source.PAGE).result()
    disk.point = point
    for second in range(3):
        recorded = room.live.ask(PRAISE, Source.KEY, room.live.state.zero_s + 10 * second).result()
        assert recorded is not None
        assert recorded.waits
    assert room.live.state.unwritten
    disk.point = ""
    assert_shown_is_what_is(room)
    with open_log(room.path) as log:
        assert [mark.at_ms for mark in log.session(session.id).marks] == [0, 10_000, 20_000]
