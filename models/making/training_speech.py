"""Speech to train the acoustic model on: a window as it is, and the same window across a noisy room.

The speech is that of `other_speech.py`. Noise is talk of two to sixteen of the same voices, the
bundled babble, or steady noise.
"""

from collections.abc import Sequence

import numpy as np
import soxr

from companion.listening.detection.takes import Floats, babble, coloured, in_room, mixed, room
from companion.listening.phonemes.acoustic_model import LEVEL, WINDOW_SAMPLES
from companion.listening.sound import SAMPLE_RATE, Sound

NOISES = 300
"""Babbles that are kept and shifted, since each takes up to sixteen windows to make."""


class TrainingSpeech:
    """Draws windows from sources of recordings, each source with its own chance."""

    def __init__(self, sources: Sequence[Sequence[Sound]], chances: Sequence[float], seed: int) -> None:
        self._sources = sources
        self._chances = chances
        self._rng = np.random.default_rng(seed)
        self._babbles: list[Floats] = []

    def pair(self, snr_db: tuple[float, float] = (-2.0, 20.0)) -> tuple[Floats, Floats]:
        """Return a window as it is and the same across a room, both at a root mean square of `LEVEL`."""
        window = self._window()
        while np.mean(window**2) < 1e-6:
            window = self._window()
        across = in_room(window, room(self._rng)) if self._rng.random() < 0.5 else window
        if self._rng.random() >= 0.1:
            across = mixed(across, self._noise(), self._rng.uniform(*snr_db))
        return _levelled(window) * LEVEL, _levelled(across) * LEVEL

    def _window(self) -> Floats:
        """Return speech at some speed, with pauses, sometimes with silence at one end, sometimes coloured."""
        rng = self._rng
        recordings = self._sources[int(rng.choice(len(self._sources), p=self._chances))]
        offset = int(rng.integers(0, 20_000))
        said: list[Floats] = []
        while sum(map(len, said)) < WINDOW_SAMPLES + offset:
            piece = recordings[int(rng.integers(len(recordings)))].astype(np.float64)
            if len(piece) > 4 * WINDOW_SAMPLES:
                start = int(rng.integers(len(piece) - 4 * WINDOW_SAMPLES))
                piece = piece[start : start + 4 * WINDOW_SAMPLES]
            if rng.random() < 0.7:
                speed = rng.uniform(0.85, 1.18)
                piece = soxr.resample(piece, SAMPLE_RATE * speed, SAMPLE_RATE, quality="LQ")
            said.append(_levelled(piece) * 10 ** (rng.uniform(-8, 0) / 20))
            said.append(np.zeros(int(rng.exponential(0.2) * SAMPLE_RATE)))
        window = np.concatenate(said)[offset : offset + WINDOW_SAMPLES]
        if rng.random() < 0.3:
            silence = int(rng.uniform(0.3, 1.6) * SAMPLE_RATE)
            if rng.random() < 0.5:
                window[:silence] = 0
            else:
                window[-silence:] = 0
        return self._coloured(window) if rng.random() < 0.3 else window

    def _coloured(self, window: Floats) -> Floats:
        """Tilt the spectrum as a microphone or a room may, and sometimes cut what is above 3 to 7 kHz."""
        frequencies = np.fft.rfftfreq(WINDOW_SAMPLES, 1 / SAMPLE_RATE)
        octaves = np.log2(np.maximum(frequencies, 100) / 1000)
        gain = 10 ** (self._rng.uniform(-4.2, 4.2) * octaves / 20)
        if self._rng.random() < 0.3:
            gain /= 1 + (frequencies / self._rng.uniform(3000, 7000)) ** 8
        return np.asarray(np.fft.irfft(np.fft.rfft(window) * gain, WINDOW_SAMPLES), np.float64)

    def _noise(self) -> Floats:
        kind = self._rng.random()
        if kind < 0.35:
            return babble(self._rng)
        if kind >= 0.85:
            return coloured(self._rng)
        if len(self._babbles) < NOISES or self._rng.random() < 0.02:
            voices = int(self._rng.integers(2, 17))
            levels = 10 ** (self._rng.uniform(-5, 0, voices) / 20)
            self._babbles.append(sum((_levelled(self._window()) * level for level in levels), np.zeros(1)))
            self._babbles = self._babbles[-NOISES:]
            return self._babbles[-1]
        kept = self._babbles[int(self._rng.integers(len(self._babbles)))]
        return np.roll(kept, int(self._rng.integers(WINDOW_SAMPLES)))


def _levelled(sound: Floats) -> Floats:
    return np.asarray(sound / (np.sqrt(np.mean(sound**2)) + 1e-9), np.float64)
