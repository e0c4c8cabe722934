"""Other speech to learn against: prompts of five voices, and random words of synthetic ones.

Needs Debian's asterisk-core-sounds-{en,es,fr,it,ru}-g722 (Creative Commons BY-SA 3.0), espeak-ng and flite,
and PyAV to read G.722.
"""

import re
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from companion.listening.microphone import files as sound
from companion.listening.phonemes.pronunciation import dictionary
from companion.listening.sound import SAMPLE_RATE, Sound
from models.making.kept_apart import learnable

PROMPTS = Path("/usr/share/asterisk/sounds")
VOICES = ("en_US_f_Allison", "it_IT_m_Carlo", "fr_CA_f_June", "es_MX_f_Allison", "ru_RU_f_IvrvoiceRU")
_SHORTEST_BYTES = 4000
_WORDS = 14
_FLITE = ("slt", "rms", "awb", "kal16")
_ESPEAK = (
    "en-us", "en-gb", "en-us+f1", "en-us+f2", "en-us+f3", "en-us+m1", "en-us+m3", "en-us+m7", "en-gb+f2",
    "en-gb-scotland", "en-gb-x-rp", "en-gb-x-gbclan", "en-gb-x-gbcwmd", "en-029", "en-us+f4", "en-us+m4",
    "en-us+croak", "en-us+klatt2",
)  # fmt: skip


def prompts(voice: str) -> list[Sound]:
    """Return all prompts of one of `VOICES`, each some 25 minutes."""
    return [_decoded(path) for path in prompt_files(voice)]


def prompt_files(voice: str) -> list[Path]:
    """Return the files of one voice that are long enough and may be learnt from."""
    paths = sorted((PROMPTS / voice).rglob("*.g722"))
    return learnable(path for path in paths if path.stat().st_size > _SHORTEST_BYTES)


def synthetic(hours: float, rng: np.random.Generator) -> Iterator[Sound]:
    """Speak random words of the dictionary in many synthetic voices."""
    known = known_words()
    heard = 0
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "said.wav"
        while heard < hours * 3600 * SAMPLE_RATE:
            text = " ".join(rng.choice(known, _WORDS))
            subprocess.run(_speaker(rng, text, path), check=True, stderr=subprocess.DEVNULL)
            said = sound.whole(path)
            heard += len(said)
            yield said


def known_words() -> list[str]:
    """Return the words of the dictionary that have two to ten letters."""
    entries = dictionary().splitlines()
    return [entry.split()[0] for entry in entries if re.match(r"[a-z]{2,10} ", entry)]


def _decoded(path: Path) -> Sound:
    import av  # noqa: PLC0415 - only where prompts are read

    with av.open(str(path), format="g722") as container:
        return np.concatenate([frame.to_ndarray()[0] for frame in container.decode(audio=0)])


def _speaker(rng: np.random.Generator, text: str, path: Path) -> list[str]:
    if rng.random() < 0.5:
        pace, pitch = f"{rng.uniform(0.8, 1.25):.2f}", f"{rng.uniform(85, 220):.0f}"
        manner = ["--setf", f"duration_stretch={pace}", "--setf", f"int_f0_target_mean={pitch}"]
        return ["flite", "-voice", str(rng.choice(_FLITE)), *manner, "-t", text, "-o", str(path)]
    manner = ["-s", str(rng.integers(130, 200)), "-p", str(rng.integers(10, 90))]
    return ["espeak-ng", "-v", str(rng.choice(_ESPEAK)), *manner, "-w", str(path), text]
