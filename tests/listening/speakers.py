"""Synthetic speakers for the tests of the enrolled engine."""

import subprocess
import tempfile
from functools import cache
from pathlib import Path

from companion.listening.microphone.files import whole
from companion.listening.sound import Sound

SPEAKERS = ("flite:slt", "flite:rms", "flite:awb", "flite:kal16", "espeak:en-us", "espeak:en-gb+f2")


@cache
def say(text: str, speaker: str = "flite:slt", pace: float = 1.0) -> Sound:
    """Speak `text`; a pace of 1.1 is a tenth slower than usual."""
    engine, voice = speaker.split(":")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "said.wav"
        if engine == "flite":
            command = ["flite", "-voice", voice, "--setf", f"duration_stretch={pace}", "-t", text, "-o", path]
        else:
            command = ["espeak-ng", "-v", voice, "-s", str(int(160 / pace)), "-w", path, text]
        subprocess.run([str(part) for part in command], check=True, capture_output=True)
        return whole(path)
