"""Hears phonemes: a small network that gives, every 20 ms, how likely each phoneme of English is.

The network (`phonemes.onnx`, 1.9 million weights) is the phoneme recogniser of the `hama` package
1.3.13 (Apache-2.0), with its 191 symbols of many languages brought down to those of English;
`fitting/make_phoneme_model.py` makes it. It looks at a whole window at once, not at a stream.
"""

from functools import cache
from importlib import resources

import numpy as np
from numpy.typing import NDArray

from companion.listening.candidate import SAMPLE_RATE, Sound
from companion.listening.network import Network, open_network

PHONEMES = (
    "AA", "AE", "AH", "AO", "AW", "AY", "B", "CH", "D", "DH", "EH", "ER", "EY", "F", "G", "HH", "IH", "IY",
    "JH", "K", "L", "M", "N", "NG", "OW", "OY", "P", "R", "S", "SH", "T", "TH", "UH", "UW", "V", "W", "Y",
    "Z", "ZH",
)  # fmt: skip
"""ARPAbet symbols in the order of the network's classes; the class after the last is "nothing new here"."""

BLANK = len(PHONEMES)
FRAME_SAMPLES = 320
"""Samples in one frame (20 ms)."""
WINDOW_SAMPLES = 40_960
"""Samples that the network looks at (2.56 s)."""
WINDOW_FRAMES = WINDOW_SAMPLES // FRAME_SAMPLES + 1

Frames = NDArray[np.float32]

_LEVEL = 0.06
"""Root mean square to which a window is brought (1 is full scale); the network was trained around it."""


def hear_phonemes(windows: NDArray[np.int16]) -> Frames:
    """Run the network over `windows`, an array of windows x `WINDOW_SAMPLES`, on one thread.

    Returns windows x frames x classes: the log probability of each class less that of the frame's likeliest.
    """
    sound = windows.astype(np.float32) / 32768
    level = np.sqrt(np.mean(sound**2, axis=1, keepdims=True))
    (log_probs,) = _session().run(None, {"waveform": sound / (level + 1e-4) * _LEVEL})
    return np.asarray(log_probs - log_probs.max(axis=-1, keepdims=True), np.float32)


def window_ending(sound: Sound, end: int) -> Sound:
    """Return the window of `sound` that ends before sample `end`, with silence where there is no sound."""
    window = np.zeros(WINDOW_SAMPLES, np.int16)
    piece = sound[max(0, end - WINDOW_SAMPLES) : end]
    window[WINDOW_SAMPLES - len(piece) :] = piece
    return window


def seconds(frames: float) -> float:
    """Return how long `frames` frames last."""
    return frames * FRAME_SAMPLES / SAMPLE_RATE


@cache
def _session() -> Network:
    return open_network(resources.files("companion.listening").joinpath("phonemes.onnx").read_bytes())
