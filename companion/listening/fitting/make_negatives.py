"""Makes `companion/listening/negatives.npz`: other speech as the two networks hear it, not as sound.

Each stretch of speech is heard twice in turn: as it is, and somewhere in a room or beneath noise, as the
variants of takes are; then noise alone. All speech is wide-band, since a classifier that knows only
narrow-band speech learns to tell telephones from rooms.

Needs Debian's asterisk-core-sounds-{en,es,fr,it,ru}-g722 (Creative Commons BY-SA 3.0), espeak-ng and flite,
and PyAV to read G.722. Usage: python -m companion.listening.fitting.make_negatives
"""

import re
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path

import av
import numpy as np
from numpy.typing import NDArray
from pocketsphinx import get_model_path

from companion.listening import sound
from companion.listening.candidate import SAMPLE_RATE, Sound
from companion.listening.enrolment import babble, coloured, somewhere
from companion.listening.learning import hear_all
from companion.listening.phoneme_model import WINDOW_SAMPLES

TARGET = Path(__file__).parents[1] / "negatives.npz"
PROMPTS = Path("/usr/share/asterisk/sounds")
HOURS = {
    "en_US_f_Allison": 0.4,
    "it_IT_m_Carlo": 0.2,
    "fr_CA_f_June": 0.2,
    "es_MX_f_Allison": 0.1,
    "ru_RU_f_IvrvoiceRU": 0.1,
}
SYNTHETIC_HOURS = 0.4
NOISE_HOURS = 0.1
COSTS_UNIT = 0.2
EMBEDDINGS_UNIT = 0.125
"""Of a standard deviation; finer steps change nothing that is learnt."""
LEVELS_DB = (-40, -18)


def main() -> None:
    """Hear all the speech, and store what was heard as small whole numbers."""
    rng = np.random.default_rng(0)
    plain = np.concatenate([_windows(piece, hours, rng) for piece, hours in _speech()])
    noisier = np.stack([somewhere(window.astype(np.float64), rng) for window in plain])
    pairs = np.stack((plain, noisier), axis=1).reshape(-1, WINDOW_SAMPLES)
    heard = hear_all(np.concatenate((pairs, _noise(rng))))
    embeddings_unit = float(heard.embeddings.std()) * EMBEDDINGS_UNIT
    np.savez_compressed(
        TARGET,
        costs=np.rint(heard.costs / COSTS_UNIT).astype(np.int8),
        costs_unit=np.float32(COSTS_UNIT),
        embeddings=np.clip(np.rint(heard.embeddings / embeddings_unit), -127, 127).astype(np.int8),
        embeddings_unit=np.float32(embeddings_unit),
    )
    print(f"{len(heard.costs)} windows, {TARGET.stat().st_size / 1e6:.1f} MB")


def _speech() -> Iterator[tuple[list[Sound], float]]:
    for voice, hours in HOURS.items():
        paths = sorted((PROMPTS / voice).rglob("*.g722"))
        yield [_decoded(path) for path in paths if path.stat().st_size > 4000], hours
    yield list(_synthetic()), SYNTHETIC_HOURS


def _decoded(path: Path) -> Sound:
    with av.open(str(path), format="g722") as container:
        return np.concatenate([frame.to_ndarray()[0] for frame in container.decode(audio=0)])


def _noise(rng: np.random.Generator) -> NDArray[np.int16]:
    """Return windows of noise alone, half of them babble."""
    count = int(NOISE_HOURS * 3600 * SAMPLE_RATE / WINDOW_SAMPLES)
    noises = [babble(rng) if number % 2 else coloured(rng) for number in range(count)]
    levels = 10 ** (rng.uniform(-45, -15, count) / 20) * 32768
    return np.stack(
        [
            np.rint(noise / np.sqrt(np.mean(noise**2)) * level).clip(-32768, 32767).astype(np.int16)
            for noise, level in zip(noises, levels, strict=True)
        ]
    )


def _synthetic() -> Iterator[Sound]:
    """Speak random words of the dictionary in many synthetic voices."""
    rng = np.random.default_rng(1)
    entries = Path(get_model_path("en-us/cmudict-en-us.dict")).read_text(encoding="utf-8").splitlines()
    known = [entry.split()[0] for entry in entries if re.match(r"[a-z]{3,8} ", entry)]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "said.wav"
        for _ in range(int(SYNTHETIC_HOURS * 3600 / 10)):
            text = " ".join(rng.choice(known, 18))
            subprocess.run(_speaker(rng, text, path), check=True, stderr=subprocess.DEVNULL)
            yield sound.whole(path)


def _speaker(rng: np.random.Generator, text: str, path: Path) -> list[str]:
    if rng.random() < 0.5:
        return [
            "flite",
            "-voice",
            str(rng.choice(["slt", "rms", "awb", "kal16"])),
            "-t",
            text,
            "-o",
            str(path),
        ]
    voice = rng.choice(["en-us", "en-gb", "en-us+f3", "en-us+m3", "en-gb+f2", "en-gb-scotland", "en-us+m7"])
    pace, pitch = rng.integers(130, 190), rng.integers(25, 75)
    return ["espeak-ng", "-v", str(voice), "-s", str(pace), "-p", str(pitch), "-w", str(path), text]


def _windows(pieces: list[Sound], hours: float, rng: np.random.Generator) -> NDArray[np.int16]:
    """Join pieces at varied levels and cut them into windows."""
    wanted = int(hours * 3600 * SAMPLE_RATE)
    said: list[Sound] = []
    for at in rng.permutation(len(pieces)):
        piece = pieces[at].astype(np.float64)
        level = np.sqrt(np.mean(piece**2)) + 1.0
        said.append(
            np.clip(piece / level * 32768 * 10 ** (rng.uniform(*LEVELS_DB) / 20), -32768, 32767).astype(
                np.int16
            )
        )
        said.append(np.zeros(int(rng.uniform(0.1, 0.5) * SAMPLE_RATE), np.int16))
        if sum(map(len, said)) > wanted:
            break
    whole = np.concatenate(said)
    count = len(whole) // WINDOW_SAMPLES
    return whole[: count * WINDOW_SAMPLES].reshape(count, WINDOW_SAMPLES)


if __name__ == "__main__":
    main()
