"""Opens the small networks that run on the processor, one thread each."""

from collections.abc import Mapping
from pathlib import Path
from typing import Protocol, cast

import numpy as np
from numpy.typing import NDArray

from companion.listening.runtime import load_onnxruntime


class Network(Protocol):
    """What is used of an onnxruntime session."""

    def run(self, outputs: None, inputs: Mapping[str, NDArray[np.float32]]) -> list[NDArray[np.float32]]:
        """Return all outputs of the network."""
        ...


def open_network(model: bytes | Path) -> Network:
    """Open a network, from a file or from what stands in one."""
    onnxruntime = load_onnxruntime()
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = options.inter_op_num_threads = 1
    session = onnxruntime.InferenceSession(model, options, providers=["CPUExecutionProvider"])
    return cast(Network, session)
