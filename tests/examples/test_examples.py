"""The examples run as they stand, each as a program of its own."""

import subprocess
import sys
from pathlib import Path

import numpy as np
import soundfile

from companion.listening.sound import SAMPLE_RATE

HERE = Path(__file__).parent


def run(example: str, *words: Path) -> str:
    """Run an example to its end, and return what it printed."""
    command = [sys.executable, str(HERE / example), *map(str, words)]
    return subprocess.run(command, capture_output=True, text=True, check=True, timeout=120).stdout


def test_an_engine_of_ones_own_hears(tmp_path: Path) -> None:
    """Two knocks within a second are praise, a third one later is none."""
    sound = np.zeros(5 * SAMPLE_RATE, np.int16)
    for second in (1.0, 1.5, 4.0):
        sound[round(second * SAMPLE_RATE)] = 20_000
    soundfile.write(tmp_path / "knocks.wav", sound, SAMPLE_RATE)
    assert run("own_engine.py", tmp_path / "knocks.wav") == "1.0 s: praise\n"


def test_a_lesson_from_a_script_is_read_from_outside(tmp_path: Path) -> None:
    """The note says what was done, and the file alone tells the marks."""
    note = run("scripted_lesson.py", tmp_path / "sessions.db")
    assert "4-Hazel" in note
    assert "2 praises, 0 reminders" in note
    assert run("read_log.py", tmp_path / "sessions.db") == "4-Hazel, arrival: 1\n4-Hazel, opening: 1\n"
