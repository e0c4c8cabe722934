"""The microphone on a real sound server, with everything that happens to microphones."""

import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from companion.clock import steady_s
from companion.listening.microphone.capture import Block, Microphone, Stream
from companion.listening.microphone.devices import SoundSystemError, choose, probe
from companion.listening.microphone.files import whole
from companion.listening.microphone.trouble import Trouble
from companion.listening.sound import SAMPLE_RATE
from companion.samples.sample import bundled_sample
from tests.listening.device import Scripted
from tests.rig_sound import SoundRig, open_sound_rig
from tests.waiting import until


class Ear:
    """Keeps what a microphone hands out and tells."""

    def __init__(self, name: str | None = None, stream: Callable[[str | None], Stream] | None = None) -> None:
        """Open the microphone and begin to drain it."""
        self.told: list[Trouble | None] = []
        self.heard: list[Block] = []
        more = {} if stream is None else {"open_stream": stream}
        self.microphone = Microphone(name, lambda trouble, _: self.told.append(trouble), **more)
        self._ended = threading.Event()
        self._drain = threading.Thread(target=self._run)
        self._drain.start()

    def _run(self) -> None:
        while not self._ended.wait(0.02):
            while not self.microphone.blocks.empty():
                self.heard.append(self.microphone.blocks.get())

    def end(self) -> None:
        """Close the microphone and stop draining."""
        self.microphone.close()
        self._ended.set()
        self._drain.join()

    def hears(self, count: int = 10) -> bool:
        """Whether `count` more blocks come."""
        wanted = len(self.heard) + count
        return until(lambda: len(self.heard) >= wanted)

    def is_told(self, trouble: Trouble | None) -> bool:
        """Whether `trouble` is what the microphone now says of itself, or soon."""
        return until(lambda: self.microphone.trouble is trouble and trouble in (None, *self.told))

    @property
    def sound(self) -> NDArray[np.int16]:
        """All that was heard."""
        return np.concatenate([block.sound for block in self.heard])


@pytest.fixture
def noise(tmp_path: Path) -> Path:
    """Give minutes of faint noise: it outlasts every test, on a computer however busy."""
    samples = np.random.default_rng(1).normal(0, 300, 300 * SAMPLE_RATE).astype(np.int16)
    soundfile.write(tmp_path / "noise.wav", samples, SAMPLE_RATE)
    return tmp_path / "noise.wav"


@pytest.fixture
def ear(sound_rig: SoundRig, noise: Path) -> Iterator[Ear]:
    """Give an ear in a room with faint noise."""
    player = sound_rig.play(noise)
    ear = Ear()
    assert ear.hears()
    yield ear
    ear.end()
    player.kill()
    player.wait()


def test_what_is_played_into_the_microphone_is_heard_whole(sound_rig: SoundRig, tmp_path: Path) -> None:
    """A second of a tone comes through with its pitch and its length, and its time is that of the clock."""
    ear = Ear()
    assert ear.hears()
    times = np.arange(SAMPLE_RATE) / SAMPLE_RATE
    tone = np.concatenate((np.zeros(3200), 8000 * np.sin(2 * np.pi * 440 * times), np.zeros(8000)))
    soundfile.write(tmp_path / "tone.wav", tone.astype(np.int16), SAMPLE_RATE)
    began_s = steady_s()
    sound_rig.play(tmp_path / "tone.wav").wait()
    ended_s = steady_s()
    assert ear.hears(20)
    ear.end()
    loud = np.abs(ear.sound.astype(np.int32)) > 1000
    first, last = np.flatnonzero(loud)[[0, -1]]
    assert abs((last - first) / SAMPLE_RATE - 1) < 0.05
    spectrum = np.abs(np.fft.rfft(ear.sound[first:last].astype(np.float64)))
    assert abs(np.argmax(spectrum) * SAMPLE_RATE / (last - first) - 440) < 5
    lengths = np.cumsum([len(block.sound) for block in ear.heard])
    block = ear.heard[int(np.searchsorted(lengths, first, side="right"))]
    assert began_s < block.began_s < ended_s


def test_an_unplugged_microphone_is_told_and_heard_again_when_it_is_back(
    ear: Ear, sound_rig: SoundRig
) -> None:
    """What the server gives in its place is no mute and no sound; it comes back by itself."""
    sound_rig.unplug()
    assert ear.is_told(Trouble.GONE)
    assert Trouble.MUTED not in ear.told
    sound_rig.plug()
    assert ear.is_told(None)
    assert ear.hears()


def test_a_muted_microphone_is_told_as_that(ear: Ear, sound_rig: SoundRig) -> None:
    """Perfect silence from a microphone that is there is a mute switch."""
    sound_rig.mute(on=True)
    assert ear.is_told(Trouble.MUTED)
    sound_rig.mute(on=False)
    assert ear.is_told(None)
    assert Trouble.GONE not in ear.told


def test_a_microphone_that_is_turned_far_down_is_told_while_somebody_speaks(
    sound_rig: SoundRig, tmp_path: Path
) -> None:
    """At 2 % of its level nobody is heard; turned up again, the next words end the trouble."""
    speech = whole(bundled_sample("calm-garden").sound)[20 * SAMPLE_RATE : 50 * SAMPLE_RATE]
    soundfile.write(tmp_path / "speech.wav", np.tile(speech, 10), SAMPLE_RATE)
    sound_rig.set_level(2)
    player = sound_rig.play(tmp_path / "speech.wav")
    ear = Ear()
    assert ear.is_told(Trouble.FAINT)
    sound_rig.set_level(100)
    assert ear.is_told(None)
    assert ear.hears()
    ear.end()
    player.kill()
    player.wait()


def test_a_stalled_microphone_is_told_and_goes_on(ear: Ear, sound_rig: SoundRig) -> None:
    """A source that delivers nothing is told, and mended when it delivers again."""
    sound_rig.stall(on=True)
    assert ear.is_told(Trouble.STALLED)
    sound_rig.stall(on=False)
    assert ear.is_told(None)
    assert ear.hears()


def test_a_sound_system_that_dies_and_comes_back_is_found_again(
    ear: Ear, sound_rig: SoundRig, noise: Path
) -> None:
    """With the server the last device is gone; a new server's device is opened by itself."""
    sound_rig.kill()
    assert ear.is_told(Trouble.GONE)
    sound_rig.start()
    player = sound_rig.play(noise)
    assert ear.is_told(None)
    assert ear.hears()
    player.kill()
    player.wait()


def test_a_frozen_sound_system_is_told_and_outlasted(ear: Ear, sound_rig: SoundRig) -> None:
    """While the server answers nobody that is told; afterwards the microphone hears again."""
    sound_rig.freeze()
    assert ear.is_told(Trouble.FROZEN)
    sound_rig.thaw()
    assert ear.is_told(None)
    assert ear.hears()


def test_a_microphone_that_appears_later_is_found() -> None:
    """A companion that was started before the microphone was plugged in hears it all the same."""
    with open_sound_rig() as rig:
        rig.unplug()
        ear = Ear()
        assert ear.is_told(Trouble.GONE)
        rig.plug()
        assert ear.hears()
        ear.end()


def test_a_named_microphone_that_is_not_there_is_told_and_never_replaced(sound_rig: SoundRig) -> None:
    """Another microphone than the chosen one is not opened behind the teacher's back."""
    assert sound_rig.server.poll() is None
    ear = Ear("lapel")
    assert ear.is_told(Trouble.GONE)
    ear.end()
    assert ear.heard == []


def test_devices_are_found_by_name_in_a_child(sound_rig: SoundRig) -> None:
    """The list of a child process has the default device, and a part of a name in any case finds it."""
    assert sound_rig.server.poll() is None
    devices = probe()
    chosen = choose(devices, None)
    assert chosen is not None
    assert choose(devices, chosen.name.upper()[:4]) == chosen
    assert choose(devices, "lapel") is None


def test_a_device_of_another_rate_and_more_channels_is_brought_to_ours() -> None:
    """48 kHz stereo becomes 16 kHz mono of the same pitch, and the device is given back at the end."""
    stream = Scripted()
    ear = Ear(stream=lambda _: stream)
    assert until(lambda: sum(len(block.sound) for block in ear.heard) > SAMPLE_RATE)
    ear.end()
    sound = ear.sound[SAMPLE_RATE // 4 : SAMPLE_RATE].astype(np.float64)
    assert abs(np.argmax(np.abs(np.fft.rfft(sound))) * SAMPLE_RATE / len(sound) - 400) < 5
    assert 3500 < np.abs(sound).max() < 4500
    assert stream.closed


def test_lost_sound_is_told_as_a_computer_that_is_behind() -> None:
    """Frames that the device lost are told, and forgotten when no more are lost."""
    stream = Scripted()
    ear = Ear(stream=lambda _: stream)
    assert ear.hears()
    stream.lost_frames += 500
    assert ear.is_told(Trouble.BEHIND)
    assert ear.is_told(None)
    ear.end()


def test_a_reason_changes_only_when_it_is_really_another() -> None:
    """A missing device of which a busy computer now and then says nothing in time is missing, and no more is
    told; a sound system that fails time after time is told.
    """
    answers = [LookupError, SoundSystemError, LookupError, SoundSystemError, LookupError]
    asked = 0

    def open_stream(_: str | None) -> Stream:
        nonlocal asked
        asked += 1
        raise (answers[asked - 1] if asked <= len(answers) else SoundSystemError)("no")

    ear = Ear(stream=open_stream)
    assert until(lambda: asked > len(answers))
    assert ear.told == [Trouble.GONE]
    assert ear.is_told(Trouble.FROZEN)
    ear.end()
    assert ear.told == [Trouble.GONE, Trouble.FROZEN]


def test_a_device_that_another_program_holds_is_told() -> None:
    """An opening that is refused is told as taken, and tried again until it works."""
    refusals = [OSError("Device unavailable"), OSError("Device unavailable")]

    def refuse(_: str | None) -> Stream:
        if refusals:
            raise refusals.pop()
        return Scripted()

    ear = Ear(stream=refuse)
    assert ear.is_told(Trouble.TAKEN)
    assert ear.is_told(None)
    assert ear.hears()
    ear.end()
