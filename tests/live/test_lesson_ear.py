"""How a lesson is listened to: microphone, recogniser, pauses and troubles."""

from pathlib import Path

from companion.errors import CompanionError
from companion.lesson.aftercare import SessionTaught
from companion.lesson.command import Action, Command
from companion.lesson.mark import Source
from companion.lesson.opening import Opening
from companion.lesson.plan import Plan
from companion.lesson.session import Session
from companion.listening.candidate import Candidate
from companion.listening.microphone.capture import Microphone
from companion.listening.microphone.trouble import Trouble
from companion.listening.sound import Sound
from companion.live.lesson_ear import EarParts
from companion.live.live import Live
from companion.live.state import Listening
from companion.log.store import open_log
from companion.settings.settings import Settings, load_settings
from tests.listening.device import Scripted
from tests.live.room import HAZEL, PRAISE, Parrot, Room
from tests.school_day import SETTINGS, settings
from tests.waiting import until


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


def test_nothing_listens_while_a_guest_teaches(room: Room) -> None:
    """From the moment that it is said until the teacher is back; keys go on."""
    session = room.live.open(HAZEL, Source.COMMAND_LINE).result()
    room.hears_something()
    room.live.record(session.id, SessionTaught(by_guest=True)).result()
    assert until(lambda: room.live.state.listening is Listening.GUEST)
    assert until(lambda: room.devices[0].closed)
    room.live.ask(PRAISE, Source.KEY).result()
    room.live.record(session.id, SessionTaught(by_guest=False)).result()
    assert until(lambda: room.live.state.listening is Listening.ON)
    assert until(lambda: len(room.devices) == 2)
    assert room.live.state.session is not None
    assert room.live.state.session.praise == 1


def test_a_guest_may_be_heard_by_an_ear_of_their_own(tmp_path: Path) -> None:
    """With the setting, another ear is opened for the guest than for the teacher."""
    file = tmp_path / "companion.toml"
    file.write_text(SETTINGS + '[listening]\nfor_guests = "unenrolled"\n')
    by_guest: list[bool] = []

    def open_spotter(_: Settings, session: Session) -> Parrot:
        by_guest.append(session.by_guest)
        return Parrot()

    live = Live(
        tmp_path / "sessions.db",
        load_settings(file),
        ear=EarParts(open_spotter, lambda name, told: Microphone(name, told, lambda _: Scripted())),
    )
    live.start()
    session = live.open(HAZEL, Source.COMMAND_LINE).result()
    assert until(lambda: by_guest == [False])
    live.record(session.id, SessionTaught(by_guest=True)).result()
    assert until(lambda: by_guest == [False, True])
    assert live.state.listening is Listening.ON
    live.stop()
