"""The voices of the samples, each from a synthesiser that a package ships whole.

The teacher is the neural voice of the Python package `hibari-tts`; everybody else comes from Debian's
`flite` and `espeak-ng`, so that the teacher is never the room. Children are adult voices
with pitch and formants raised together, as a shorter vocal tract raises them.
"""

import io
import shutil
import subprocess
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np
import soundfile as sf
import soxr
from numpy.typing import NDArray

from companion.listening.runtime import load_onnxruntime

if TYPE_CHECKING:
    from hibari import Hibari

Wave = NDArray[np.float64]
"""One-channel sound at `RATE`, full scale 1.0."""

RATE = 16_000
PACE_VARIES = 0.04
"""Nobody says a phrase twice at one pace: standard deviation of the neural voice's, as a logarithm."""
QUIET_DB = -38.0
"""Below its own loudest moment by this much, the head and tail of an utterance count as silence."""


@dataclass(frozen=True, slots=True)
class Voice:
    """One speaker."""

    engine: str
    """`hibari`, `flite` or `espeak-ng`."""
    name: str = ""
    """The engine's own name for the voice."""
    smaller: float = 1.0
    """How much higher pitch and formants are than the engine's (1.0: as they are)."""


CAST = {
    "teacher": Voice("hibari"),
    "colleague": Voice("flite", "awb"),
    "visitor": Voice("flite", "rms"),
    "child a": Voice("flite", "slt", 1.24),
    "child b": Voice("flite", "slt", 1.38),
    "child c": Voice("espeak-ng", "en-us+f3", 1.20),
    "child d": Voice("espeak-ng", "en-us+f4", 1.30),
    "child e": Voice("flite", "rms", 1.75),
    "child f": Voice("espeak-ng", "en-gb+f2", 1.25),
    "child g": Voice("flite", "kal16", 1.70),
    "child h": Voice("espeak-ng", "en-us+f5", 1.15),
}
CHILDREN = tuple(name for name in CAST if name.startswith("child"))


def speak(who: str, text: str, *, slower: float = 1.0, seed: int = 0) -> Wave:
    """Return `who` saying `text`, without silence at the ends and at an RMS of 0.1.

    slower: how many times as long as at the voice's own pace.
    seed: for the neural voice, whose breath and pace are drawn at random; the others have no chance in them.
    """
    voice = CAST[who]
    # A shifted voice is sped up afterwards: speak that much slower now to keep the pace.
    stretch = slower * voice.smaller
    if voice.engine == "hibari":
        wave, rate = _hibari(text, stretch, seed)
    elif voice.engine == "flite":
        wave, rate = _flite(voice.name, text, stretch)
    else:
        wave, rate = _espeak(voice.name, text, stretch)
    wave = _without_silence(soxr.resample(wave, rate * voice.smaller, RATE))
    return np.asarray(wave * (0.1 / np.sqrt(np.mean(wave**2))))


def _hibari(text: str, stretch: float, seed: int) -> tuple[Wave, int]:
    """Return the neural voice and its rate."""
    voice = _neural_voice()
    pace = float(np.exp(np.random.default_rng(seed).normal(0.0, PACE_VARIES))) / stretch
    return np.asarray(voice(text, speed=pace, seed=seed), dtype=np.float64), int(voice.sample_rate)


@cache
def _neural_voice() -> "Hibari":
    """Return the voice that lies in the package; it would fetch any other."""
    load_onnxruntime()
    from hibari import Hibari  # noqa: PLC0415 - it loads onnxruntime

    return Hibari()


def _flite(name: str, text: str, stretch: float) -> tuple[Wave, int]:
    options = ["-voice", name, "--setf", f"duration_stretch={stretch:.3f}", "-t", text, "-o", "/dev/stdout"]
    return _spoken_by("flite", options)


def _espeak(name: str, text: str, stretch: float) -> tuple[Wave, int]:
    return _spoken_by("espeak-ng", ["-v", name, "-s", str(round(165 / stretch)), "--stdout", text])


def _spoken_by(program: str, options: list[str]) -> tuple[Wave, int]:
    """Return what a synthesiser wrote to its standard output as a WAV, and its rate."""
    said = subprocess.run([_path(program), *options], capture_output=True, check=True)  # noqa: S603
    # Both write a stream whose length the WAV header cannot know: take the samples to the end.
    rate = int.from_bytes(said.stdout[24:28], "little")
    data = said.stdout[44 : 44 + (len(said.stdout) - 44) // 2 * 2]
    wave, _ = sf.read(
        io.BytesIO(data), format="RAW", subtype="PCM_16", samplerate=rate, channels=1, dtype="float64"
    )
    return np.asarray(wave, dtype=np.float64), rate


@cache
def _path(program: str) -> str:
    path = shutil.which(program)
    if path is None:
        raise SystemExit(f"{program} is not installed; on Debian: apt-get install flite espeak-ng")
    return path


def _without_silence(wave: Wave) -> Wave:
    """Return `wave` from the first to the last 10 ms that are louder than `QUIET_DB` below its loudest."""
    hop = RATE // 100
    frames = wave[: len(wave) // hop * hop].reshape(-1, hop)
    power = np.mean(frames**2, axis=1)
    loud = np.flatnonzero(power > power.max() * 10 ** (QUIET_DB / 10))
    return wave[loud[0] * hop : (loud[-1] + 1) * hop]
