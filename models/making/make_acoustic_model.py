"""Makes `companion/listening/speech.onnx`: the encoder of Whisper tiny.en, taught to tell phonemes in noise.

A teacher that hears quiet speech well (`make_teacher.py`) says what is in a window as it is; the model, which
hears the same window across a noisy room, learns to say the same (Li et al., Large-Scale Domain Adaptation
via Teacher-Student Learning, Interspeech 2017), so that no speech needs to be transcribed. First the head
alone learns, then everything. The embeddings are the principal components of the states. The weights are
stored as whole numbers of 7 bits, which older processors can multiply without overflow.

About 70 minutes on two cores; not the same to the last bit each time, and the file in use was taken 500 steps
before the end. Needs torch and onnx beside what `other_speech.py` needs.
Usage: python -m models.making.make_acoustic_model TEACHER.onnx MODEL.bin (see `make_teacher.py`
and `encoder.py`)
"""

import multiprocessing
import sys
import tempfile
from multiprocessing.queues import Queue
from pathlib import Path

import numpy as np
import torch
from numpy.typing import NDArray
from torch import Tensor, nn
from torch.nn import functional

from companion.listening.phonemes.acoustic_model import BLANK, DIMENSIONS, WINDOW_FRAMES, WINDOW_SAMPLES
from companion.listening.phonemes.network import open_network
from models.making.encoder import STATES, AcousticModel, read_encoder
from models.making.other_speech import VOICES, prompts, synthetic
from models.making.training_speech import TrainingSpeech

TARGET = Path(__file__).parents[2] / "companion/listening/phonemes/speech.onnx"
CHANCES = (0.3, 0.1, 0.1, 0.1, 0.1, 0.3)
"""How often each of `VOICES` is drawn, then synthetic voices."""
SYNTHETIC_HOURS = 1.0
BATCH = 16
QUIET = 4
"""Windows of each batch that are also learnt from as they are."""
HEAD_STEPS, ALL_STEPS = 400, 2000
HEAD_RATE, ENCODER_RATE = 1e-3, 1e-4
PHONEME_WEIGHT = 3.0
"""How much more a frame counts in which a phoneme is heard."""
COMPONENT_WINDOWS = 500

Batch = tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.float32]]
"""Windows as they are, across a room, and what the teacher hears in the former."""


def main(teacher: Path, weights: Path) -> None:
    """Learn, find the components, and store the network."""
    sources = [prompts(voice) for voice in VOICES]
    sources.append(list(synthetic(SYNTHETIC_HOURS, np.random.default_rng(1))))
    batches: Queue[Batch] = multiprocessing.Queue(6)
    for seed in range(2):
        speech = TrainingSpeech(sources, CHANCES, seed)
        multiprocessing.Process(target=_draw, args=(batches, speech, teacher), daemon=True).start()
    model = AcousticModel()
    model.encoder = read_encoder(weights)
    learn(model, batches, HEAD_STEPS, everything=False)
    learn(model, batches, ALL_STEPS, everything=True)
    model.eval()
    find_components(model, batches)
    store(model)


def learn(model: AcousticModel, batches: "Queue[Batch]", steps: int, *, everything: bool) -> None:
    """Let the head, or everything, follow the teacher for so many steps."""
    groups = [{"params": list(model.head.parameters()), "lr": HEAD_RATE}]
    if everything:
        learnable = [p for name, p in model.encoder.named_parameters() if name != "positions"]
        groups.append({"params": learnable, "lr": ENCODER_RATE})
    for parameter in model.encoder.parameters():
        parameter.requires_grad = everything and parameter is not model.encoder.positions
    optimizer = torch.optim.AdamW(groups, weight_decay=0.01)
    schedule = torch.optim.lr_scheduler.LambdaLR(
        optimizer, lambda step: min(1, (step + 1) / 100) * (0.52 + 0.5 * np.cos(np.pi * step / steps))
    )
    for step in range(steps):
        loss = _loss(model, batches.get())
        optimizer.zero_grad()
        loss.backward()
        nn.utils.clip_grad_norm_(model.parameters(), 1.0)
        optimizer.step()
        schedule.step()
        if step % 50 == 0:
            print(f"step {step}: {loss.item():.3f} nats a frame")


def find_components(model: AcousticModel, batches: "Queue[Batch]") -> None:
    """Set the embeddings to the principal components of the states, over noisy speech."""
    heard = []
    with torch.no_grad():
        for _ in range(COMPONENT_WINDOWS // BATCH):
            _, across, _ = batches.get()
            heard.append(model.pooled(model.encoder(torch.tensor(across))).reshape(-1, STATES))
    states = torch.cat(heard)
    model.middle.copy_(states.mean(0))
    _, vectors = torch.linalg.eigh(torch.cov(states.T))
    model.components.copy_(vectors.flip(1)[:, :DIMENSIONS])


def store(model: AcousticModel) -> None:
    """Write the network, with the weights of its matrices as whole numbers."""
    from onnxruntime.quantization import QuantType, quantize_dynamic  # noqa: PLC0415 - after the package, which silences it

    with tempfile.TemporaryDirectory() as folder:
        exact = Path(folder) / "exact.onnx"
        torch.onnx.export(
            model,
            (torch.randn(2, WINDOW_SAMPLES) * 0.06,),
            str(exact),
            input_names=["waveform"],
            output_names=["log_probs", "embeddings"],
            dynamic_axes={"waveform": {0: "windows"}},
            opset_version=17,
            dynamo=False,
        )
        quantize_dynamic(
            exact,
            TARGET,
            op_types_to_quantize=["MatMul"],
            weight_type=QuantType.QInt8,
            per_channel=True,
            reduce_range=True,
        )


def _loss(model: AcousticModel, batch: Batch) -> Tensor:
    quiet, across, taught = batch
    likes, _ = model(torch.tensor(np.concatenate((across, quiet[:QUIET]))))
    taught_likes = functional.log_softmax(torch.tensor(np.concatenate((taught, taught[:QUIET]))), -1)
    divergence = (taught_likes.exp() * (taught_likes - likes)).sum(-1)
    weight = 1 + PHONEME_WEIGHT * (1 - taught_likes.exp()[..., BLANK])
    return (divergence * weight).sum() / weight.sum()


def _draw(batches: "Queue[Batch]", speech: TrainingSpeech, teacher: Path) -> None:
    network = open_network(teacher)
    while True:
        quiet, across = (
            np.stack(windows).astype(np.float32)
            for windows in zip(*(speech.pair() for _ in range(BATCH)), strict=True)
        )
        (taught,) = network.run(None, {"waveform": quiet})
        batches.put((quiet, across, taught[:, :WINDOW_FRAMES]))


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
