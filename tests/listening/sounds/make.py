"""Makes the small recordings in this folder, with the voices of Debian's `flite`."""

import subprocess
import tempfile
from pathlib import Path

import numpy as np
import soundfile
import soxr

SAID = {
    "praise": ("rms", "velvet compass, praise."),
    "quiet_praise": ("slt", "velvet compass, praise."),
}
HERE = Path(__file__).parent


def main() -> None:
    """Write every recording anew."""
    for name, (voice, text) in SAID.items():
        with tempfile.TemporaryDirectory() as folder:
            spoken = Path(folder) / "spoken.wav"
            subprocess.run(["flite", "-voice", voice, "-t", text, "-o", str(spoken)], check=True)
            sound, rate = soundfile.read(spoken, dtype="float32")
        silence = np.zeros(8_000, np.float32)
        level = 0.05 if name.startswith("quiet") else 0.7
        voiced = soxr.resample(sound, rate, 16_000)
        whole = np.concatenate((silence, voiced * level / np.abs(voiced).max(), silence))
        # A little noise, as every microphone has: exact silence is a case of its own.
        whole += np.random.default_rng(1).normal(0, 1e-4, len(whole)).astype(np.float32)
        soundfile.write(HERE / f"{name}.flac", whole, 16_000, subtype="PCM_16")


if __name__ == "__main__":
    main()
