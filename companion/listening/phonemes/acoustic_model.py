"""The acoustic model: how likely each phoneme of English is every 20 ms, and what a stretch sounds like.

The network (`speech.onnx`, 8 million weights) is the encoder of OpenAI's Whisper tiny.en (MIT), which learnt
from 680,000 hours of speech in all kinds of noise, with a small head for phonemes on top of it;
`models/making/make_acoustic_model.py` makes it and says how. It looks at a whole window at once, not at a
stream.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources

import numpy as np
from numpy.typing import NDArray

from companion.listening.phonemes.network import Network, open_network
from companion.listening.sound import SAMPLE_RATE, Sound

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
WINDOW_FRAMES = WINDOW_SAMPLES // FRAME_SAMPLES

FRAMES_TOGETHER = 4
"""Frames that one embedding stands for (80 ms); it knows of the sound around them too."""
PLACES = WINDOW_FRAMES // FRAMES_TOGETHER
"""Embeddings in a window."""
DIMENSIONS = 96

MODEL = "whisper-tiny-en-phonemes-1"
"""Names these weights: what was learnt from one model's embeddings means nothing to another."""

Frames = NDArray[np.float32]

FLOOR = -8.0
"""The least that one frame may count (nats), so that one masked phoneme doesn't rule a whole chain out."""

LEVEL = 0.06
"""Root mean square to which a window is brought (1 is full scale); the head was trained at it."""
_BATCH = 16


@dataclass(frozen=True, slots=True)
class Looks:
    """Windows of sound as the network hears them."""

    costs: Frames
    """Windows x frames x classes: log probability less that of the likeliest class, not below `FLOOR`."""
    embeddings: NDArray[np.float32]
    """Windows x `PLACES` x `DIMENSIONS`: the principal components of the encoder's states."""


def hear(windows: NDArray[np.int16]) -> Looks:
    """Run the network over `windows`, an array of windows x `WINDOW_SAMPLES`, on one thread."""
    return together([_hear(windows[at : at + _BATCH]) for at in range(0, len(windows), _BATCH)])


def together(parts: Sequence[Looks]) -> Looks:
    """Join what was heard in several parts."""
    return Looks(
        np.concatenate([part.costs for part in parts]), np.concatenate([part.embeddings for part in parts])
    )


def window_ending(sound: Sound, end: int) -> Sound:
    """Return the window of `sound` that ends before sample `end`, with silence where there is no sound."""
    window = np.zeros(WINDOW_SAMPLES, np.int16)
    piece = sound[max(0, end - WINDOW_SAMPLES) : end]
    window[WINDOW_SAMPLES - len(piece) :] = piece
    return window


def seconds(frames: float) -> float:
    """Return how long `frames` frames last."""
    return frames * FRAME_SAMPLES / SAMPLE_RATE


def _hear(windows: NDArray[np.int16]) -> Looks:
    sound = windows.astype(np.float32) / 32768
    level = np.sqrt(np.mean(sound**2, axis=1, keepdims=True))
    log_probs, embeddings = _session().run(None, {"waveform": sound / (level + 1e-4) * LEVEL})
    costs = np.maximum(log_probs - log_probs.max(axis=-1, keepdims=True), FLOOR)
    return Looks(np.asarray(costs, np.float32), np.asarray(embeddings, np.float32))


@cache
def _session() -> Network:
    return open_network(resources.files("companion.listening.phonemes").joinpath("speech.onnx").read_bytes())
