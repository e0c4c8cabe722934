"""The sounds of what was heard, from the phrase to the settling."""

from pathlib import Path

import numpy as np

from companion.lesson import event as ev
from companion.lesson.mark import Source
from companion.lesson.session import Session
from companion.listening.sound import Sound
from companion.live.clips import Clips
from companion.live.reviewed_takes import ReviewedTakes
from companion.log.forget import SESSIONS, take_out, whole_sessions
from companion.log.store import open_log
from companion.settings.settings import Settings
from tests.live.room import HAZEL, Room
from tests.school_day import HandClock
from tests.waiting import until


def test_the_sound_of_a_phrase_stays_in_memory_until_the_session_is_settled(room: Room) -> None:
    """A mark and a near miss can be played in the review, and afterwards nothing is left of them."""
    session = room.live.open(HAZEL, Source.COMMAND_LINE).result().id
    room.hears_something()
    room.parrot.next = [room.parrot.says("lovely teamwork")]
    assert until(lambda: room.live.clips.get(session, "m3") is not None)
    room.parrot.next = [room.parrot.says("gentle reminder", fired=False)]
    assert until(lambda: room.live.clips.get(session, "c4") is not None)
    sound = room.live.clips.get(session, "m3")
    assert sound is not None
    assert np.abs(sound.astype(np.int32)).max() > 1000
    room.live.close(Source.PAGE).result()
    room.live.record(session, ev.SessionSettled()).result()
    assert room.live.clips.get(session, "m3") is None
    assert room.live.clips.sessions == set()


def test_what_the_review_confirmed_can_be_learnt_from_before_its_sound_is_gone(tmp_path: Path) -> None:
    """The sound is still there when a settled session is taken up, and not afterwards."""
    there: list[Sound | None] = []

    class Learning(ReviewedTakes):
        def take_up(self, session: Session, clips: Clips, settings: Settings) -> None:
            assert session.settled
            assert not settings.listening.learn_from_reviews
            there.append(clips.get(session.id, "m3"))

    room = Room(tmp_path, reviewed_takes=Learning(tmp_path / "voice"))
    session = room.live.open(HAZEL, Source.COMMAND_LINE).result().id
    room.hears_something()
    room.parrot.next = [room.parrot.says("lovely teamwork")]
    assert until(lambda: room.live.clips.get(session, "m3") is not None)
    room.live.close(Source.PAGE).result()
    room.live.record(session, ev.SessionSettled()).result()
    room.live.stop()
    assert len(there) == 1
    assert there[0] is not None
    assert room.live.clips.sessions == set()


def test_a_session_that_is_purged_while_it_is_open_stops_nothing(tmp_path: Path) -> None:
    """It is let go, its sounds with it, and the next class can come."""
    clock = HandClock()
    room = Room(tmp_path, clock=clock)
    session = room.live.open(HAZEL, Source.COMMAND_LINE).result().id
    room.live.clips.keep(session, "m3", np.ones(10, np.int16), clock.wall().date())
    with open_log(room.path) as log:
        take_out(log, whole_sessions([session]), SESSIONS, clock.wall())
    clock.go_on(10)
    room.live.tick().result()
    assert room.live.state.session is None
    assert room.live.clips.sessions == set()
    assert room.live.open(HAZEL, Source.COMMAND_LINE).result()
    room.live.stop()
