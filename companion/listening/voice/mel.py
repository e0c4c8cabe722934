"""The power of speech in channels as the ear has them: what voices are compared by."""

from functools import cache

import numpy as np
from numpy.typing import NDArray

from companion.listening.sound import SAMPLE_RATE, Sound

CHANNELS = 40
FRAME_SAMPLES, STEP_SAMPLES = 400, 160
_FULL_SCALE = 32768


def spectra(sound: Sound | NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the power spectrum of a frame each 10 ms (frames x frequencies); full scale is 1."""
    padded = np.pad(np.asarray(sound, np.float64) / _FULL_SCALE, FRAME_SAMPLES // 2)
    frames = np.lib.stride_tricks.sliding_window_view(padded, FRAME_SAMPLES)[::STEP_SAMPLES]
    spectrum = np.fft.rfft(frames * np.hanning(FRAME_SAMPLES + 1)[:-1], axis=1)
    return np.asarray(np.abs(spectrum) ** 2)


@cache
def mel_filters(channels: int, warp: float = 1.0) -> NDArray[np.float64]:
    """Return triangular filters of equal area, evenly spaced up to 1 kHz and logarithmically above.

    (Slaney, Auditory Toolbox, 1998.) Frequencies x channels; each frequency counts as `warp` times as high.
    """
    highest = 15 + np.log(SAMPLE_RATE / 2 / 1000) / (np.log(6.4) / 27)
    mels = np.linspace(0, highest, channels + 2)
    edges = np.where(mels < 15, mels * 200 / 3, 1000 * np.exp((mels - 15) * np.log(6.4) / 27))
    hz = warp * np.linspace(0, SAMPLE_RATE / 2, FRAME_SAMPLES // 2 + 1)[:, np.newaxis]
    rising = (hz - edges[:-2]) / (edges[1:-1] - edges[:-2])
    falling = (edges[2:] - hz) / (edges[2:] - edges[1:-1])
    return np.asarray(np.maximum(0, np.minimum(rising, falling)) * 2 / (edges[2:] - edges[:-2]))
