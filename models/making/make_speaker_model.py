"""Makes `companion/listening/speakers.onnx` from the voice encoder inside the package `resemblyzer` 0.1.4.

The network (three LSTM layers and a linear one, 1.4 million weights) was trained to tell speakers apart (Wan
et al., Generalized End-to-End Loss for Speaker Verification, ICASSP 2018). Licence: Apache-2.0. Its weights
are stored as half floats here, and are read without torch from torch's own kind of file.
Usage: pip download --no-deps resemblyzer==0.1.4, unzip it, pip install onnx, then
python -m models.making.make_speaker_model resemblyzer/pretrained.pt
"""

import pickle
import struct
import sys
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from io import BufferedReader
from pathlib import Path
from typing import Any

import numpy as np
import onnx
from numpy.typing import NDArray
from onnx import TensorProto, helper, numpy_helper

from companion.listening.voice.mel import CHANNELS
from companion.listening.voice.speaker import DIMENSIONS

TARGET = Path(__file__).parents[2] / "companion/listening/voice/speakers.onnx"
LAYERS = 3
HIDDEN = 256
OLD_FORMAT = 0x1950A86A20F9469CFC6C

Weights = dict[str, NDArray[np.float32]]


@dataclass(frozen=True)
class Stored:
    """Where the numbers of a tensor are."""

    key: str
    offset: int = 0
    size: tuple[int, ...] = ()


class Reader(pickle.Unpickler):
    """Reads the index of torch's old file format; nothing else can come out of it."""

    def find_class(self, module: str, name: str) -> Callable[..., object] | str:
        """Return a stand-in for the few names that the file uses."""
        match name:
            case "OrderedDict":
                return OrderedDict
            case "_rebuild_tensor_v2":
                return lambda stored, offset, size, *_: Stored(stored.key, offset, size)
            case "_rebuild_parameter":
                return lambda tensor, *_: tensor
            case "FloatStorage" | "LongStorage":
                return name
        raise pickle.UnpicklingError(f"{module}.{name}")

    def persistent_load(self, pid: tuple[str, str, str, str, int]) -> Stored:
        """Return where a storage is."""
        return Stored(pid[2])


def read_weights(file: BufferedReader) -> Weights:
    """Return the network's weights by name."""
    assert Reader(file).load() == OLD_FORMAT
    for _ in range(2):
        Reader(file).load()
    state = Reader(file).load()["model_state"]
    keys = Reader(file).load()
    wanted = {stored.key for stored in state.values()}
    numbers = {}
    for key in keys:
        (count,) = struct.unpack("<q", file.read(8))
        if key not in wanted:
            break  # what follows served the training only
        numbers[key] = np.frombuffer(file.read(4 * count), np.float32)
    return {
        name: numbers[at.key][at.offset : at.offset + int(np.prod(at.size))].reshape(at.size)
        for name, at in state.items()
        if at.key in numbers
    }


def main(weights: Weights) -> None:
    """Store the network: spectrograms (batch x frames x channels) in, unit vectors out."""
    graph = Graph()
    graph.node("Transpose", ["mel"], "layer0", perm=[1, 0, 2])
    for layer in range(LAYERS):
        inputs = [
            graph.constant(f"w{layer}", _gates(weights[f"lstm.weight_ih_l{layer}"])[np.newaxis]),
            graph.constant(f"r{layer}", _gates(weights[f"lstm.weight_hh_l{layer}"])[np.newaxis]),
            graph.constant(f"b{layer}", _biases(weights, layer)[np.newaxis]),
        ]
        last = layer == LAYERS - 1
        outputs = ["", "hidden"] if last else [f"all{layer}"]
        graph.nodes.append(helper.make_node("LSTM", [f"layer{layer}", *inputs], outputs, hidden_size=HIDDEN))
        if not last:
            graph.node("Squeeze", [f"all{layer}", graph.axes(1)], f"layer{layer + 1}")
    graph.node("Squeeze", ["hidden", graph.axes(0)], "last")
    graph.node("MatMul", ["last", graph.constant("linear", weights["linear.weight"].T)], "turned")
    graph.node("Add", ["turned", graph.constant("bias", weights["linear.bias"])], "added")
    graph.node("Relu", ["added"], "positive")
    graph.node("LpNormalization", ["positive"], "speaker", axis=1, p=2)
    model = helper.make_model(
        helper.make_graph(
            graph.nodes,
            "speakers",
            [helper.make_tensor_value_info("mel", TensorProto.FLOAT, ["batch", "frames", CHANNELS])],
            [helper.make_tensor_value_info("speaker", TensorProto.FLOAT, ["batch", DIMENSIONS])],
            graph.initializers,
        ),
        opset_imports=[helper.make_opsetid("", 17)],
        ir_version=8,
    )
    onnx.checker.check_model(model)
    onnx.save(model, TARGET)


class Graph:
    """Nodes and constants of a network that is being made."""

    def __init__(self) -> None:
        self.nodes: list[onnx.NodeProto] = []
        self.initializers: list[onnx.TensorProto] = []

    def node(self, kind: str, inputs: list[str], output: str, **attributes: Any) -> None:  # noqa: ANN401 - as onnx has it
        """Add a node."""
        self.nodes.append(helper.make_node(kind, inputs, [output], **attributes))

    def constant(self, name: str, values: NDArray[np.float32]) -> str:
        """Add a constant as half floats, and return the name under which it is whole floats."""
        self.initializers.append(numpy_helper.from_array(values.astype(np.float16), f"{name}_half"))
        self.node("Cast", [f"{name}_half"], name, to=TensorProto.FLOAT)
        return name

    def axes(self, axis: int) -> str:
        """Add a list of one axis and return its name."""
        name = f"axis{len(self.initializers)}"
        self.initializers.append(numpy_helper.from_array(np.array([axis], np.int64), name))
        return name


def _gates(stacked: NDArray[np.float32]) -> NDArray[np.float32]:
    """Bring torch's order of gates (input, forget, cell, output) into that of ONNX."""
    into, forget, cell, out = np.split(stacked, 4)
    return np.concatenate((into, out, forget, cell))


def _biases(weights: Weights, layer: int) -> NDArray[np.float32]:
    return np.concatenate([_gates(weights[f"lstm.bias_{kind}_l{layer}"]) for kind in ("ih", "hh")])


if __name__ == "__main__":
    with Path(sys.argv[1]).open("rb") as pretrained:
        main(read_weights(pretrained))
