"""What fires after the cue on the first day: commands, sentences that are nearly one, and plain sentences.

`python -m tests.listening.measure_commands [--reported FOLDER] [--jobs 2] [--seed 0]`. Without FOLDER flite
and espeak-ng say the sentences of `sentences.toml` that the rules are chosen with, beneath the babble that
variants of takes are made with. FOLDER has the voices that figures are reported on (`say_for_reporting`),
heard in the benchmark's own noise. In brackets 95 % intervals (Wilson).
"""

import argparse
import multiprocessing
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np
from rich.console import Console
from rich.table import Table

from companion.bench.conditions import LEAD, Condition, place
from companion.lesson.chance import share
from companion.lesson.vocabulary import Vocabulary
from companion.listening.detection.takes import babble, noisy
from companion.listening.detection.unenrolled_spotter import UnenrolledSpotter
from companion.listening.microphone.files import whole
from companion.listening.sound import Sound
from companion.listening.spotter import hear_whole
from companion.listening.voice.cues import synthetic_cue
from companion.settings.phrase_packs import starter_text
from companion.settings.settings import parse_settings
from tests.listening.speakers import say

SENTENCES = Path(__file__).with_name("sentences.toml")
LEVELS = (None, 10.0, 5.0)
KINDS = ("command", "near", "plain")


@dataclass(frozen=True, slots=True)
class Clip:
    """The cue and what was said after it."""

    kind: str
    text: str
    sound: Sound


def vocabulary() -> Vocabulary:
    """Return the starter's cue and commands."""
    settings = parse_settings(starter_text("en"), "starter")
    return settings.vocabulary(settings.plan())


def developed(words: Vocabulary) -> Iterator[Clip]:
    """Say what the rules are chosen with."""
    listed = tomllib.loads(SENTENCES.read_text("utf-8"))["developed_with"]
    texts = {"command": words.phrases, "near": listed["near"], "plain": listed["plain"]}
    for voice in listed["voices"]:
        for kind, said in texts.items():
            yield from (Clip(kind, text, say(f"{words.cue}, {text}", voice)) for text in said)


def reported(folder: Path) -> Iterator[Clip]:
    """Read what figures are reported on: a folder a voice, in it one a kind."""
    for path in sorted(folder.glob("*/*/*.flac")):
        if path.parent.name in KINDS:
            yield Clip(path.parent.name, path.stem, whole(path))


def fired(clip: Clip, snr_db: float | None, *, seed: int, own_noise: bool) -> str:
    """Return the command that fired after the cue, empty where none did."""
    rng = np.random.default_rng((seed, int(snr_db or 99), *clip.text.encode(), len(clip.sound)))
    sound = place(clip.sound, Condition(False, snr_db if own_noise else None), (), rng)
    if snr_db is not None and not own_noise:
        sound = noisy(sound, babble(rng, len(sound)), snr_db)
    words = vocabulary()
    cue = synthetic_cue(words.cue or "", None)
    assert cue is not None
    found = hear_whole(UnenrolledSpotter(words, [cue.detector]), sound)
    return next((one.phrase for one in found if one.fired and one.end_ms > LEAD // 16), "")


def main() -> None:
    """Print the table."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--reported", type=Path)
    options.add_argument("--jobs", type=int, default=1)
    options.add_argument("--seed", type=int, default=0)
    options.add_argument(
        "--list", action="store_true", help="name what fired and should not, and what was missed"
    )
    chosen = options.parse_args()
    clips = list(reported(chosen.reported) if chosen.reported else developed(vocabulary()))
    table = Table("", *("clean" if level is None else f"{level:g} dB" for level in LEVELS))
    heard: dict[float | None, list[str]] = {}
    with multiprocessing.get_context("fork").Pool(chosen.jobs) as pool:
        for level in LEVELS:
            one = partial(fired, snr_db=level, seed=chosen.seed, own_noise=chosen.reported is not None)
            heard[level] = pool.map(one, clips, chunksize=4)
    for title, kind, of in (
        ("right command", "command", lambda clip, phrase: phrase == clip.text),
        ("wrong command", "command", lambda clip, phrase: phrase not in {"", clip.text}),
        ("near sentences that fire", "near", lambda _, phrase: bool(phrase)),
        ("plain sentences that fire", "plain", lambda _, phrase: bool(phrase)),
    ):
        row = []
        for level in LEVELS:
            counted = [
                of(clip, phrase)
                for clip, phrase in zip(clips, heard[level], strict=True)
                if clip.kind == kind
            ]
            part = share(sum(counted), len(counted))
            row.append(f"{part.value:.1%} ({part.low:.0%}–{part.high:.0%}) of {len(counted)}")
        table.add_row(title, *row)
    Console(width=140).print(table)
    if chosen.list:
        for level in LEVELS:
            for clip, phrase in zip(clips, heard[level], strict=True):
                if (clip.kind == "command") != (phrase == clip.text) and (phrase or clip.kind == "command"):
                    print(level, clip.kind, clip.text, "->", phrase)


if __name__ == "__main__":
    main()
