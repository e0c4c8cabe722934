"""The settings of a tortured companion, and the sound of its phrases."""

import re
from pathlib import Path

import numpy as np
import soundfile

from companion.lesson.mark import Kind
from companion.listening.microphone.files import blocks
from companion.listening.sound import SAMPLE_RATE
from companion.samples.sample import bundled_sample

SETTINGS = """
[school]
name = "Alder Lane School"

[listening]
cue = "velvet compass"

[tones]
volume = 0.2

[[plans]]
name = "garden"
phases = [{ name = "arrival", minutes = 5 }, { name = "work time", minutes = 30 }]

[[phrases]]
say = "praise"
does = "praise"

[[phrases]]
say = "reminder"
does = "reminder"

[[levels]]
name = "ripe harvest"
least_margin = 0

[[keys]]
press = "f9"
does = "praise"

[[keys]]
press = "f10"
does = "reminder"
"""
SILENT = re.sub(r"\[\[phrases\]\][^\[]*", "", SETTINGS.replace("volume = 0.2", "volume = 0"))
"""Of one who only presses keys: no process is started for tones, and none for an ear."""
SAMPLE = "calm-garden"
BEFORE_S, AFTER_S = 0.4, 1.5
"""Sound around a phrase; a command has to end."""


def write_phrases(folder: Path) -> dict[str, list[Path]]:
    """Cut the phrases of the sample's teacher into sound files, by the kind of their mark."""
    sample = bundled_sample(SAMPLE)
    sound = np.concatenate(list(blocks(sample.sound)))
    phrases: dict[str, list[Path]] = {kind: [] for kind in Kind}
    for number, said in enumerate(sample.truth):
        if said.phrase in phrases:
            begin = said.begin_ms * SAMPLE_RATE // 1000 - round(BEFORE_S * SAMPLE_RATE)
            end = said.end_ms * SAMPLE_RATE // 1000 + round(AFTER_S * SAMPLE_RATE)
            path = folder / f"{said.phrase}-{number}.wav"
            soundfile.write(path, sound[begin:end], SAMPLE_RATE)
            phrases[said.phrase].append(path)
    return phrases
