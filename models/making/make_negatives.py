"""Makes `companion/listening/negatives.npz`: other speech as the acoustic model hears it, not as sound.

Each stretch of speech is heard twice in turn: as it is, and somewhere in a room or beneath noise, as the
variants of takes are; then noise alone. All speech is wide-band, since a classifier that knows only
narrow-band speech learns to tell telephones from rooms.

What it needs is told in `other_speech.py`. Usage: python -m models.making.make_negatives
"""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from companion.listening.detection.takes import babble, coloured, somewhere
from companion.listening.phonemes.acoustic_model import WINDOW_SAMPLES, hear
from companion.listening.sound import SAMPLE_RATE, Sound
from models.making.other_speech import VOICES, prompts, synthetic

TARGET = Path(__file__).parents[2] / "companion/listening/detection/negatives.npz"
HOURS = (0.4, 0.2, 0.2, 0.1, 0.1)
"""Of each of `VOICES`."""
SYNTHETIC_HOURS = 0.4
NOISE_HOURS = 0.1
COSTS_UNIT = 0.2
EMBEDDINGS_UNIT = 0.125
"""Of a standard deviation; finer steps change nothing that is learnt."""
LEVELS_DB = (-40, -18)


def main() -> None:
    """Hear all the speech, and store what was heard as small whole numbers."""
    rng = np.random.default_rng(0)
    plain = np.concatenate([_windows(piece, hours, rng) for piece, hours in _speech(rng)])
    noisier = np.stack([somewhere(window.astype(np.float64), rng) for window in plain])
    pairs = np.stack((plain, noisier), axis=1).reshape(-1, WINDOW_SAMPLES)
    heard = hear(np.concatenate((pairs, _noise(rng))))
    embeddings_unit = float(heard.embeddings.std()) * EMBEDDINGS_UNIT
    np.savez_compressed(
        TARGET,
        costs=np.rint(heard.costs / COSTS_UNIT).astype(np.int8),
        costs_unit=np.float32(COSTS_UNIT),
        embeddings=np.clip(np.rint(heard.embeddings / embeddings_unit), -127, 127).astype(np.int8),
        embeddings_unit=np.float32(embeddings_unit),
    )
    print(f"{len(heard.costs)} windows, {TARGET.stat().st_size / 1e6:.1f} MB")


def _speech(rng: np.random.Generator) -> Iterator[tuple[list[Sound], float]]:
    for voice, hours in zip(VOICES, HOURS, strict=True):
        yield prompts(voice), hours
    yield list(synthetic(SYNTHETIC_HOURS, rng)), SYNTHETIC_HOURS


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
