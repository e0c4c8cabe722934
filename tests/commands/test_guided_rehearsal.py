"""`companion rehearse` at the microphone: a process of its own, spoken to through a virtual microphone."""

import os
import signal
import stat
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile

from companion.lesson.vocabulary import Vocabulary
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.listening.voice.files import recall
from companion.listening.voice.learnt import Learnt
from tests.listening.speakers import say
from tests.rig_sound import SoundRig

SETTINGS = """
[listening]
cue = "velvet compass"

[[plans]]
name = "garden lesson"
phases = [{ name = "arrival", minutes = 5 }]

[[phrases]]
say = "praise"
does = "praise"

[[phrases]]
say = "take it back"
does = "undo"
"""

Started = Callable[[], subprocess.Popen[str]]


@pytest.fixture
def start(tmp_path: Path, sound_rig: SoundRig) -> Iterator[Started]:
    """Give a function that starts the rehearsal."""
    # A room: what is perfectly silent counts as muted, and is opened anew again and again.
    room = np.random.default_rng(0).normal(0, 3, 240 * SAMPLE_RATE).astype(np.int16)
    soundfile.write(tmp_path / "room.wav", room, SAMPLE_RATE)
    playing = sound_rig.play(tmp_path / "room.wav")
    home = tmp_path / "home"
    home.mkdir(mode=0o700)
    (home / "companion.toml").write_text(SETTINGS)
    started: list[subprocess.Popen[str]] = []
    guards: list[threading.Timer] = []

    def start_one() -> subprocess.Popen[str]:
        process = subprocess.Popen(
            [sys.executable, "-m", "companion", "rehearse"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            env=os.environ | {"COMPANION_HOME": str(home), "COLUMNS": "200"},
        )
        started.append(process)
        # What never comes ends a test, and not the whole run.
        guards.append(threading.Timer(240, process.kill))
        guards[-1].start()
        return process

    yield start_one
    for guard in guards:
        guard.cancel()
    for process in started:
        process.kill()
        process.communicate()
    playing.kill()
    playing.wait()


def until(process: subprocess.Popen[str], words: str) -> str:
    """Read what the program says until a line holds `words`, and return that line."""
    assert process.stdout is not None
    said = []
    for line in process.stdout:
        said.append(line)
        if words in line:
            return line
    raise AssertionError("".join(said))


def press(process: subprocess.Popen[str], line: str) -> None:
    """Type a line."""
    assert process.stdin is not None
    process.stdin.write(f"{line}\n")
    process.stdin.flush()


def speak(rig: SoundRig, folder: Path, text: str, gain: float = 0.6, pace: float = 1.0) -> None:
    """Say something into the microphone, with a pause after it."""
    silence: Sound = np.zeros(SAMPLE_RATE, np.int16)
    said = np.clip(gain * say(text, "flite:rms", pace), -32768, 32767).astype(np.int16)
    soundfile.write(folder / "said.wav", np.concatenate((silence[::2], said, silence)), SAMPLE_RATE)
    assert rig.play(folder / "said.wav").wait() == 0


def test_takes_said_at_the_microphone_are_learnt(start: Started, sound_rig: SoundRig, tmp_path: Path) -> None:
    """A bad take is told at once, Enter goes on, and at the end only features are kept, privately."""
    rehearsal = start()
    until(rehearsal, "law of your place")
    until(rehearsal, "Say “velvet compass” 8 times")
    speak(sound_rig, tmp_path, "velvet compass", gain=9)
    assert "too loud" in until(rehearsal, "Not taken")
    for number, pace in enumerate((0.9, 1.0, 1.1), start=1):
        speak(sound_rig, tmp_path, "velvet compass", pace=pace)
        until(rehearsal, f"{number} of 8: good")
    press(rehearsal, "")
    until(rehearsal, "Say “praise” 3 times")
    speak(sound_rig, tmp_path, "praise")
    until(rehearsal, "1 of 3: good")
    press(rehearsal, "")
    until(rehearsal, "Say “take it back”")
    press(rehearsal, "")
    until(rehearsal, "Talk about anything")
    press(rehearsal, "")
    until(rehearsal, "say nothing")
    press(rehearsal, "")
    until(rehearsal, "The sound is gone")
    assert rehearsal.wait() == 0
    voice = tmp_path / "home" / "voice"
    learnt = recall(voice)
    assert isinstance(learnt, Learnt)
    assert learnt.fits(Vocabulary(("praise", "take it back"), "velvet compass"))
    assert {stat.S_IMODE(file.stat().st_mode) for file in voice.iterdir()} == {0o600}


def test_stopping_it_leaves_everything_as_it_was(start: Started, sound_rig: SoundRig, tmp_path: Path) -> None:
    """Ctrl+C in the middle keeps nothing and says so."""
    rehearsal = start()
    until(rehearsal, "Say “velvet compass”")
    speak(sound_rig, tmp_path, "velvet compass")
    until(rehearsal, "1 of 8: good")
    rehearsal.send_signal(signal.SIGINT)
    assert "Nothing was kept" in until(rehearsal, "was stopped")
    assert rehearsal.wait() == 2
    assert not (tmp_path / "home" / "voice").exists()
