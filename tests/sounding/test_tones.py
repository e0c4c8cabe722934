"""Tones: what they are, that they really sound, and that they harm nothing when they can't."""

import os
import subprocess
import sys

import numpy as np
import pytest

from companion.sounding.sounds import NOTES, TAIL_S, Tone, sound_of
from companion.sounding.tones import HANGS, Tones
from tests.rig_sound import SoundRig
from tests.waiting import until

RATE = 48_000
RECORD = ["parec", "--device=speaker.monitor", "--format=s16le", "--channels=1", "--raw", "--latency-msec=20"]
PLAY = """
import sys
from companion.sounding.sounds import Tone
from companion.sounding.tones import Tones
tones = Tones(float(sys.argv[1]))
for name in sys.argv[2:]:
    tones.play(Tone(name))
    time.sleep(0.6)
tones.close(20)
""".replace("import sys", "import sys, time", 1)


def pitch_of(wave: np.ndarray) -> float:
    """Return the strongest frequency in `wave`, in hertz."""
    spectrum = np.abs(np.fft.rfft(wave * np.hanning(len(wave)), 1 << 17))
    return float(np.argmax(spectrum)) * RATE / (1 << 17)


@pytest.mark.parametrize("tone", list(Tone))
def test_a_tone_is_short_clean_and_ends_in_silence(tone: Tone) -> None:
    """Each tone is under half a second, never clips, begins without a click and has silence at its end."""
    sound = np.array(sound_of(tone, RATE))
    assert len(sound) / RATE < 0.5 + TAIL_S
    assert 0.3 < np.abs(sound).max() <= 1.0
    assert np.abs(np.diff(sound)).max() < 0.2
    assert not sound[-round(TAIL_S * RATE) :].any()


def test_no_two_tones_share_rhythm_and_direction() -> None:
    """Tones can be told apart without an ear for pitch: by the number of notes and where they go."""
    shapes = set()
    for notes in NOTES.values():
        pitches = [pitch for pitch, _ in notes if pitch]
        shapes.add((len(pitches), np.sign(pitches[-1] - pitches[0])))
    assert len(shapes) == len(Tone)


def test_a_tone_really_sounds(sound_rig: SoundRig) -> None:
    """What leaves the loudspeaker is the tone: praise rises from its first pitch to its second."""
    environment = {**os.environ, **sound_rig.environment}
    recorder = subprocess.Popen(
        [*RECORD, f"--rate={RATE}"],
        env=environment,
        stdout=subprocess.PIPE,
    )
    assert recorder.stdout is not None
    recorder.stdout.read(RATE // 5)
    player = subprocess.Popen([sys.executable, "-c", PLAY, "0.5", "praise"], env=environment)
    heard, begin = np.zeros(0), 0
    while len(heard) < 30 * RATE and not (begin and len(heard) > begin + RATE // 2):
        block = np.frombuffer(recorder.stdout.read(RATE // 10), dtype=np.int16)
        heard = np.concatenate([heard, block / 32768])
        begin = int(np.argmax(np.abs(heard) > 0.02))
    assert player.wait(60) == 0
    recorder.kill()
    recorder.communicate()
    assert np.abs(heard).max() == pytest.approx(0.5 * np.abs(sound_of(Tone.PRAISE, RATE)).max(), rel=0.1)
    assert pitch_of(heard[begin : begin + RATE // 12]) == pytest.approx(660, rel=0.03)
    assert pitch_of(heard[begin + RATE // 8 : begin + RATE // 4]) == pytest.approx(990, rel=0.03)


def test_a_tone_that_can_not_sound_harms_nothing(sound_rig: SoundRig) -> None:
    """With the sound server gone tones are dropped quietly, and closing does not hang."""
    sound_rig.kill()
    command = [sys.executable, "-c", PLAY, "0.5", "praise", "undo"]
    environment = {**os.environ, **sound_rig.environment}
    assert subprocess.run(command, env=environment, check=False, timeout=60).returncode == 0


def test_a_loudspeaker_that_hangs_is_given_up_and_the_next_tone_sounds(sound_rig: SoundRig) -> None:
    """While the sound server answers nobody tones are dropped instead of waiting in line."""
    tones = Tones(0.5)
    sound_rig.freeze()
    for _ in range(50):
        tones.play(Tone.PRAISE)
    assert tones._waiting.qsize() <= 2
    assert until(lambda: tones._trouble == HANGS)
    sound_rig.thaw()
    assert until(lambda: tones._trouble == "" and tones._waiting.empty())
    tones.close(patience_s=20)
    assert not tones._thread.is_alive()


def test_volume_nought_means_off_until_it_is_turned_up(sound_rig: SoundRig) -> None:
    """With volume 0 no process is kept; the settings may ask for tones later."""
    assert sound_rig.server.poll() is None
    tones = Tones(0)
    tones.play(Tone.PRAISE)
    tones.close()
    assert not tones._thread.is_alive()
    tones.volume = 0.2
    tones.play(Tone.PRAISE)
    assert tones._thread.is_alive()
    tones.close(patience_s=20)
    assert not tones._thread.is_alive()
