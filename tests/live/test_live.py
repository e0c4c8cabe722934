"""The lesson that is going on, with everything joined: sources in, one writer, tones and viewers out."""

import threading
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from companion.errors import CompanionError
from companion.lesson import event as ev
from companion.lesson.command import Action, Command
from companion.lesson.mark import Source
from companion.lesson.opening import Opening
from companion.lesson.plan import Plan
from companion.lesson.session import Session
from companion.listening.candidate import Candidate
from companion.listening.microphone.capture import Microphone
from companion.listening.microphone.trouble import Trouble
from companion.listening.sound import Sound
from companion.live.clips import Clips
from companion.live.heard_sounds import HeardSounds
from companion.live.lesson_ear import EarParts
from companion.live.live import Live
from companion.live.reviewed_takes import ReviewedTakes
from companion.live.state import Listening, LiveState
from companion.log.forget import SESSIONS, take_out, whole_sessions
from companion.log.store import open_log
from companion.settings.settings import Settings, load_settings
from companion.settings.watch import SettingsWatch
from companion.sounding.sounds import Tone
from tests.listening.device import Scripted
from tests.school_day import CLASSES, SETTINGS, HandClock, settings
from tests.waiting import until

PRAISE = Command(Action.PRAISE)
HAZEL = Opening("4-Hazel")


class Told:
    """Tones that are noted in place of being played, with what the log held at that moment."""

    def __init__(self, path: Path) -> None:
        """Look into the log at `path`."""
        self.tones: list[tuple[Tone, int]] = []
        self._path = path

    def play(self, tone: Tone) -> None:
        """Note `tone` and how many events another reader finds in the log."""
        with open_log(self._path) as log:
            self.tones.append((tone, len(log.events(log.summaries()[0].session)) if log.summaries() else 0))

    def wake(self) -> None:
        """Do nothing."""

    def close(self) -> None:
        """Do nothing."""


class Parrot:
    """A spotter that finds what it was told to find."""

    name = "parrot"

    def __init__(self) -> None:
        """Wait for things to find."""
        self.next: list[Candidate] = []
        self.last: list[Candidate] = []
        self.heard = 0

    def hear(self, block: Sound) -> list[Candidate]:
        """Return what was put into `next`."""
        self.heard += len(block)
        found, self.next = self.next, []
        return found

    def finish(self) -> list[Candidate]:
        """Return what was put into `last`."""
        return self.last

    def says(self, phrase: str, *, ago_ms: int = 1500, fired: bool = True) -> Candidate:
        """Return a candidate that began `ago_ms` before the newest sound."""
        now_ms = self.heard // 16
        return Candidate(phrase, max(0, now_ms - ago_ms), now_ms - 400, now_ms, 0.9, fired, self.name)


class Room:
    """A running companion with scripted microphone and spotter."""

    def __init__(
        self,
        folder: Path,
        *,
        timetable: bool = False,
        clock: HandClock | None = None,
        reviewed_takes: ReviewedTakes | None = None,
    ) -> None:
        """Start it."""
        self.devices: list[Scripted] = []
        self.parrot = Parrot()
        self.path = folder / "sessions.db"
        self.told = Told(self.path)
        self.microphones: list[Microphone] = []
        self.live = Live(
            self.path,
            settings(timetable=timetable),
            ear=EarParts(lambda *_: self.parrot, self._open),
            sounds=HeardSounds(reviewed_takes=reviewed_takes),
            tones=self.told,  # type: ignore[arg-type]
            clock=clock,
        )
        self.states: list[LiveState] = []
        self.live.subscribe(self.states.append)
        self.live.start()

    def _open(self, name: str | None, told: Callable[[Trouble | None, float], None]) -> Microphone:
        self.devices.append(Scripted())
        self.microphones.append(Microphone(name, told, open_stream=lambda _: self.devices[-1]))
        return self.microphones[-1]

    def hears_something(self) -> None:
        """Wait until sound reaches the spotter."""
        before = self.parrot.heard
        assert until(lambda: self.parrot.heard > before + 16_000)


@pytest.fixture
def room(tmp_path: Path) -> Iterator[Room]:
    """Give a running companion."""
    room = Room(tmp_path)
    yield room
    room.live.stop()


def test_a_key_and_a_phrase_become_marks_and_each_is_durable_before_its_tone(room: Room) -> None:
    """Another reader of the log finds the mark at the moment when the tone plays."""
    room.live.open(HAZEL, Source.COMMAND_LINE).result()
    room.live.ask(PRAISE, Source.KEY).result()
    room.hears_something()
    room.parrot.next = [room.parrot.says("gentle reminder", ago_ms=1200)]
    assert until(lambda: room.live.state.session is not None and room.live.state.session.reminder == 1)
    assert until(lambda: len(room.told.tones) == 2)
    assert room.told.tones == [(Tone.PRAISE, 3), (Tone.REMINDER, 4)]
    assert [state.session.praise for state in room.states if state.session][-1] == 1


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


def test_a_key_opens_an_unplanned_session_once_and_closes_it(room: Room) -> None:
    """Without a timetable a key opens a session without a class; again it asks, and opens nothing over it."""
    opening, closing = Command(Action.OPEN), Command(Action.CLOSE)
    for command in (opening, opening, closing, closing):
        room.live.ask(command, Source.KEY).result()
    with open_log(room.path) as log:
        assert [(summary.class_group, summary.closed) for summary in log.summaries()] == [("unplanned", True)]
    assert [tone for tone, _ in room.told.tones] == [Tone.NOTE, Tone.QUESTION, Tone.NOTE, Tone.REFUSAL]


def test_a_class_that_is_named_afterwards_is_listened_to_by_its_own_plan(tmp_path: Path) -> None:
    """The open session is meant; another plan's phrases need another recogniser, the same plan's none."""
    file = tmp_path / "companion.toml"
    file.write_text(SETTINGS + '[[plans]]\nname = "kitchen"\nphases = [{ name = "aprons", minutes = 5 }]\n')
    listened: list[str] = []

    def open_spotter(_: Settings, session: Session) -> Parrot:
        listened.append(session.plan.name)
        return Parrot()

    live = Live(
        tmp_path / "sessions.db",
        load_settings(file),
        ear=EarParts(open_spotter, lambda name, told: Microphone(name, told, lambda _: Scripted())),
    )
    live.start()
    live.ask(Command(Action.OPEN), Source.KEY).result()
    assert live.name("4-Hazel", None, Source.PAGE).result().class_group == "4-Hazel"
    assert until(lambda: listened == ["garden"])
    named = live.name("4-Hazel", "kitchen", Source.PAGE).result()
    assert named.phase is not None
    assert named.phase.name == "aprons"
    assert until(lambda: listened == ["garden", "kitchen"])
    assert live.state.session == named
    live.stop()


def test_a_pause_closes_the_microphone_at_once_and_only_a_hand_opens_it_again(room: Room) -> None:
    """The pause phrase gives the device back; a key takes a new one."""
    room.live.open(HAZEL, Source.COMMAND_LINE).result()
    room.hears_something()
    assert room.live.state.listening is Listening.ON
    room.parrot.next = [room.parrot.says("microphone off")]
    assert until(lambda: room.live.state.listening is Listening.PAUSED)
    assert until(lambda: room.devices[0].closed)
    assert room.live.level_dbfs is None
    assert len(room.devices) == 1
    room.live.ask(Command(Action.RESUME), Source.KEY).result()
    assert room.live.state.listening is Listening.ON
    assert until(lambda: len(room.devices) == 2)


def test_the_microphone_is_open_only_while_a_session_is(room: Room) -> None:
    """Before and after a session no device is held."""
    assert room.devices == []
    room.live.open(HAZEL, Source.COMMAND_LINE).result()
    assert until(lambda: len(room.devices) == 1)
    room.live.close(Source.PAGE).result()
    assert room.live.state.listening is Listening.OFF
    assert until(lambda: room.devices[0].closed)


def test_what_was_said_just_before_the_end_still_counts(room: Room) -> None:
    """A phrase that is decided only by the end of the sound belongs to the session that ends."""
    session = room.live.open(HAZEL, Source.COMMAND_LINE).result().id
    room.hears_something()
    room.parrot.last = [room.parrot.says("lovely teamwork")]
    room.live.open(Opening("2-Birch"), Source.KEY).result()
    with open_log(room.path) as log:
        assert until(lambda: log.session(session).praise == 1)
        assert log.session(session).closed
        assert log.find().praise == 0


def test_a_microphone_in_trouble_is_told_logged_and_stops_no_key(room: Room) -> None:
    """The stretch is in the log with its reason, viewers see it, and a key makes its mark all the same."""
    room.live.open(HAZEL, Source.COMMAND_LINE).result()
    room.hears_something()
    room.devices[0].lost_frames += 100
    assert until(lambda: room.live.state.listening is Listening.TROUBLED)
    assert "busy" in room.live.state.trouble
    assert room.live.state.remedy
    assert room.live.ask(PRAISE, Source.KEY).result()
    assert until(lambda: room.live.state.listening is Listening.ON)
    session = room.live.state.session
    assert session is not None
    assert [stretch.reason for stretch in session.unheard] == [Trouble.BEHIND.words]
    assert session.unheard[0].ended_ms is not None


def test_a_pause_in_the_midst_of_a_trouble_ends_the_stretch(room: Room) -> None:
    """While the teacher has paused, nothing is missed; the stretch does not run on."""
    room.live.open(HAZEL, Source.COMMAND_LINE).result()
    room.hears_something()
    room.devices[0].lost_frames += 100
    assert until(lambda: room.live.state.listening is Listening.TROUBLED)
    room.live.ask(Command(Action.PAUSE), Source.KEY).result()
    session = room.live.state.session
    assert session is not None
    assert session.unheard[-1].ended_ms is not None
    assert room.live.state.trouble == ""


def test_a_recogniser_that_breaks_is_told_and_replaced(tmp_path: Path) -> None:
    """The lesson goes on, the stretch is in the log, and the next recogniser hears."""
    room = Room(tmp_path)

    class Broken(Parrot):
        def hear(self, block: Sound) -> list[Candidate]:
            msg = f"a bug after {len(block)} samples"
            raise ValueError(msg)

    good, room.parrot = room.parrot, Broken()
    room.live.open(HAZEL, Source.COMMAND_LINE).result()
    assert until(lambda: room.live.state.trouble == "the recogniser failed")
    room.parrot = good
    assert until(lambda: room.live.state.listening is Listening.ON)
    room.hears_something()
    room.live.stop()


def test_commands_that_can_do_nothing_are_refused_by_tone(room: Room) -> None:
    """No session, nothing to take back: a refusal; a doubled mark: no second tone."""
    room.live.ask(PRAISE, Source.KEY).result()
    room.live.open(HAZEL, Source.COMMAND_LINE).result()
    room.live.ask(Command(Action.UNDO), Source.KEY).result()
    room.live.ask(PRAISE, Source.KEY).result()
    room.live.ask(Command(Action.UNDO), Source.KEY).result()
    assert [tone for tone, _ in room.told.tones] == [Tone.REFUSAL, Tone.REFUSAL, Tone.PRAISE, Tone.UNDO]


def test_a_viewer_that_fails_takes_nobody_with_it(room: Room) -> None:
    """Marks go on, and the other viewers see them."""

    def fail(_: LiveState) -> None:
        msg = "a page that went away"
        raise RuntimeError(msg)

    leave = room.live.subscribe(fail)
    room.live.open(HAZEL, Source.COMMAND_LINE).result()
    room.live.ask(PRAISE, Source.PAGE).result()
    leave()
    assert room.states[-1].session is not None
    assert room.states[-1].session.praise == 1


def test_marks_from_many_sources_at_once_are_all_there_once(room: Room) -> None:
    """Two hundred presses from eight threads are two hundred marks with gapless numbers."""
    session = room.live.open(HAZEL, Source.COMMAND_LINE).result().id

    def press() -> None:
        for _ in range(25):
            room.live.ask(PRAISE, Source.PAGE).result()

    threads = [threading.Thread(target=press) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert room.live.state.session is not None
    assert room.live.state.session.praise == 200
    with open_log(room.path) as log:
        assert [event.seq for event in log.events(session)] == list(range(1, 203))


def test_the_log_has_the_engine_that_was_chosen_and_a_lesson_is_held_without_one(tmp_path: Path) -> None:
    """What the engines say at the opening counts; when none is ready, the class is marked by hand."""
    engines = ["enrolled"]

    def choose(_: Settings, plan: Plan) -> str:
        if not engines:
            raise CompanionError(f"no engine for {plan.name}")
        return engines.pop()

    live = Live(
        tmp_path / "sessions.db",
        settings(),
        ear=EarParts(
            lambda *_: Parrot(),
            lambda name, told: Microphone(name, told, open_stream=lambda _: Scripted()),
            choose,
        ),
    )
    live.start()
    assert live.open(HAZEL, Source.KEY).result().engine == "enrolled"
    assert live.open(HAZEL, Source.KEY).result().engine is None
    live.stop()


def test_changed_settings_wait_for_the_lesson_to_end(tmp_path: Path) -> None:
    """The open lesson keeps its own; bad ones are told and change nothing; the next lesson has the new."""
    file = tmp_path / "companion.toml"
    file.write_text(SETTINGS)
    clock, watch = HandClock(), SettingsWatch(file)
    live = Live(tmp_path / "sessions.db", watch.settings, clock=clock, settings_watch=watch)
    live.start()

    def pass_time() -> LiveState:
        clock.go_on(10)
        live.tick().result()
        return live.state

    live.open(HAZEL, Source.KEY).result()
    file.write_text("this is no settings file")
    assert "can't be" in pass_time().settings_news
    file.write_text(SETTINGS.replace("minutes = 30", "minutes = 20"))
    assert "when this lesson is closed" in pass_time().settings_news
    assert live.settings.plan().minutes == 45
    assert live.ask(PRAISE, Source.KEY).result()
    assert live.open(Opening("2-Birch"), Source.KEY).result().plan.minutes == 35
    file.write_text(SETTINGS.replace('"garden"', '"kitchen"'))
    assert live.open(Opening("5-Oak", "garden"), Source.CLOCK).result().plan.minutes == 35
    live.close(Source.KEY).result()
    file.write_text(SETTINGS)
    assert pass_time().settings_news == ""
    assert live.settings.plan().minutes == 45
    live.stop()


def test_a_plan_that_is_not_there_closes_nothing(room: Room) -> None:
    """The lesson that is open goes on and is listened to."""
    session = room.live.open(HAZEL, Source.COMMAND_LINE).result().id
    with pytest.raises(CompanionError, match="no plan 'cooking'"):
        room.live.open(Opening("2-Birch", "cooking"), Source.COMMAND_LINE).result()
    assert room.live.state.session is not None
    assert room.live.state.session.id == session
    room.hears_something()


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


def test_a_restart_goes_on_with_the_session_and_listens_again(tmp_path: Path) -> None:
    """Stopped in mid-lesson and started anew, the companion has session, count and microphone back."""
    first = Room(tmp_path)
    session = first.live.open(HAZEL, Source.COMMAND_LINE).result().id
    first.live.ask(PRAISE, Source.KEY).result()
    first.live.stop()
    second = Room(tmp_path)
    assert second.live.state.session is not None
    assert second.live.state.session.id == session
    assert second.live.state.session.praise == 1
    second.hears_something()
    second.live.stop()


def test_a_log_that_is_no_log_is_refused_at_the_start(tmp_path: Path) -> None:
    """The companion does not start, and says which file is wrong."""
    (tmp_path / "sessions.db").write_bytes(b"no database at all" * 100)
    live = Live(tmp_path / "sessions.db", settings())
    with pytest.raises(CompanionError, match=r"sessions\.db"):
        live.start()


def test_eight_hours_with_six_classes_open_and_close_by_the_timetable(tmp_path: Path) -> None:
    """Each class has its own session at its time, back to back too, and all wait for their review."""
    clock = HandClock()
    clock.jump(timedelta(minutes=-30))
    room = Room(tmp_path, timetable=True, clock=clock)
    begun: dict[str, str] = {}
    for minute in range(8 * 60 + 30):
        room.live.tick().result()
        session = room.live.state.session
        if session is not None:
            begun.setdefault(session.class_group, f"{session.opened_at:%H:%M}")
            if minute % 5 == 0:
                room.live.ask(PRAISE, Source.KEY).result()
        clock.go_on(60)
    assert begun == dict(
        zip(CLASSES.values(), ["08:00", "08:45", "09:45", "10:30", "13:00", "15:00"], strict=True)
    )
    assert room.live.state.session is None
    assert [summary.class_group for summary in room.live.state.waiting] == list(CLASSES.values())[::-1]
    assert all(summary.praise in (9, 10, 11) for summary in room.live.state.waiting)
    coming = room.live.state.coming
    assert coming is not None
    assert (coming.class_group, coming.begins.day) == ("4-Hazel", 21)
    room.live.stop()
    assert len(room.devices) == 6
    assert all(device.closed for device in room.devices)


def test_a_lesson_closed_early_by_hand_does_not_open_again(tmp_path: Path) -> None:
    """And one opened a little early is the timetable's own."""
    clock = HandClock()
    clock.jump(timedelta(minutes=-10))
    room = Room(tmp_path, timetable=True, clock=clock)
    assert room.live.open_lesson(Source.KEY).result().class_group == "4-Hazel"
    for minute in range(40):
        if minute == 30:
            room.live.close(Source.PAGE).result()
        clock.go_on(60)
        room.live.tick().result()
    with open_log(room.path) as log:
        assert [summary.class_group for summary in log.summaries()] == ["4-Hazel"]
    room.live.stop()
