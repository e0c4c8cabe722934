"""Fits how the dictionary engine weighs its evidence; prints the coefficients that `evidence.py` holds.

    python -m models.making.fit_dictionary_engine --talk FILE… [--recordings FOLDER…]

Synthetic speakers (Debian's `flite` and `espeak-ng`) say phrases, and cues with commands, in between talk.
A folder of recordings is named after the phrase said in each of its files, with hyphens for spaces; of
several folders, the first is also used as a cue for the second. Everything is mixed with a babble of the
talk at several signal-to-noise ratios. No sound of the sample sessions is used.
"""

import argparse
import json
import random
import subprocess
import tempfile
from dataclasses import asdict
from pathlib import Path

import numpy as np
import soxr
from numpy.typing import NDArray

from companion.lesson.vocabulary import Vocabulary
from companion.listening.evidence import Evidence
from companion.listening.microphone.files import whole
from companion.listening.pocketsphinx_spotter import PocketsphinxSpotter
from companion.listening.sound import SAMPLE_RATE

Wave = NDArray[np.float32]
Spoken = tuple[str, int, int]
Row = tuple[dict[str, float], bool, str]

PHRASES = ("garden bell", "copper kettle", "take five")
CUES = ("orange lantern", "silver teapot", "hello marigold")
COMMANDS = (
    "well done", "warning", "undo that", "next part", "gather round", "pack away", "clean hands",
    "group one well done", "group two well done", "group one warning", "group two warning", "stop listening",
)  # fmt: skip
SENTENCES = (
    "please put the trays back on the shelf when you have finished",
    "who can tell me what the roots of this plant are for",
    "we are going to water the beans and then write in the journal",
    "no running near the stove because the pans are very hot",
    "that lantern is orange and the teapot is made of silver",
    "I can hear the bell in the garden so it must be nearly noon",
)
VOICES = (
    ("flite", "rms"), ("flite", "slt"), ("flite", "awb"), ("flite", "kal16"),
    ("espeak-ng", "en-us+m3"), ("espeak-ng", "en-us+f2"), ("espeak-ng", "en-gb+m1"),
)  # fmt: skip
RATIOS_DB = (None, 20.0, 10.0, 5.0)
SHARE = 0.35
"""Chance of each stream to be heard at each of the ratios."""


def main() -> None:
    """Make the material, let the engine look at it, fit, and print."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--talk", type=Path, nargs="+", required=True)
    parser.add_argument("--recordings", type=Path, nargs="*", default=[])
    parser.add_argument(
        "--rows", type=Path, help="Keep what was seen in this file, or read it if it is there."
    )
    arguments = parser.parse_args()
    if arguments.rows and arguments.rows.exists():
        seen: dict[str, list[Row]] = json.loads(arguments.rows.read_text())
    else:
        talk = [wave(path) for path in arguments.talk]
        babble = overlaid(talk)
        recordings = {folder.name.replace("-", " "): trimmed(folder) for folder in arguments.recordings}
        seen = {
            "phrase": phrase_rows(recordings, talk, babble),
            "cue": cue_rows(recordings, talk, babble),
        }
        if arguments.rows:
            arguments.rows.write_text(json.dumps(seen))
    for name, rows in seen.items():
        report(name, rows)


def phrase_rows(recordings: dict[str, list[Wave]], talk: list[Wave], babble: Wave) -> list[Row]:
    """Return what is seen of phrases without a cue."""
    chance = random.Random(1)
    vocabulary = Vocabulary((*recordings, *PHRASES))
    rows = watch(vocabulary, [(sound, []) for sound in talk], babble, chance)
    streams = [pieces([(phrase, sound)], chance) for phrase, takes in recordings.items() for sound in takes]
    streams += [
        pieces(
            [(None, say(voice, chance.choice(SENTENCES))), (phrase, say(voice, phrase))], chance, pause_s=0.4
        )
        for voice in VOICES
        for phrase in PHRASES
    ]
    return rows + watch(vocabulary, streams, babble, chance)


def cue_rows(recordings: dict[str, list[Wave]], talk: list[Wave], babble: Wave) -> list[Row]:
    """Return what is seen of commands after a cue, of cues without a command, and of talk."""
    chance = random.Random(2)
    rows: list[Row] = []
    for cue in CUES:
        vocabulary = Vocabulary(COMMANDS, cue=cue)
        streams = []
        for voice in VOICES:
            for command in chance.sample(COMMANDS, 4):
                said = say(voice, f"{cue}, {command}.")
                lead = say(voice, chance.choice(SENTENCES))
                streams.append(
                    pieces([(None, lead), (command, said)], chance, pause_s=chance.choice((0.1, 0.6)))
                )
            loose = say(voice, f"{cue}, {chance.choice(SENTENCES)}")
            streams.append(pieces([(None, loose)], chance))
        rows += watch(vocabulary, streams + [(sound, []) for sound in talk[:1]], babble, chance)
    if len(recordings) > 1:
        (cue, cues), (command, commands) = list(recordings.items())[:2]
        vocabulary = Vocabulary((*COMMANDS, command), cue=cue)
        streams = [
            pieces([(command, np.concatenate((first, quiet(chance.uniform(0.02, 0.3)), second)))], chance)
            for first, second in zip(cues, commands, strict=False)
        ]
        rows += watch(vocabulary, streams + [(sound, []) for sound in talk], babble, chance)
    return rows


def watch(
    vocabulary: Vocabulary, streams: list[tuple[Wave, list[Spoken]]], babble: Wave, chance: random.Random
) -> list[Row]:
    """Return the evidence of every candidate in the streams, whether it was true, and at which ratio."""
    seen: list[Evidence] = []

    def keep(evidence: Evidence) -> float:
        seen.append(evidence)
        return 0.5

    rows: list[Row] = []
    for ratio in RATIOS_DB:
        spotter = PocketsphinxSpotter(vocabulary, judge=keep)
        mine = [stream for stream in streams if chance.random() < SHARE]
        at, spoken, found = 0, [], []
        seen.clear()
        for clean, said in mine:
            sound = noisy(clean, babble, ratio, chance)
            spoken += [(phrase, at + begin, at + end) for phrase, begin, end in said]
            at += len(sound)
            found += spotter.hear(np.clip(sound * 32768, -32768, 32767).astype(np.int16))
        found += spotter.finish()
        for evidence, candidate in zip(seen, found, strict=True):
            middle = (candidate.begin_ms + candidate.end_ms) / 2 * SAMPLE_RATE / 1000
            true = any(p == candidate.phrase and begin < middle < end for p, begin, end in spoken)
            rows.append((asdict(evidence), true, str(ratio)))
        hits = sum(true for _, true, which in rows if which == str(ratio))
        print(
            f"{vocabulary.cue} at {ratio} dB: {at / SAMPLE_RATE:.0f} s, {len(spoken)} said, {hits} proposed,"
        )
        print(f"    {len(found)} candidates in all", flush=True)
    return rows


def report(name: str, rows: list[Row]) -> None:
    """Fit on all rows and print coefficients, with errors from five-fold cross-validation."""
    keys = list(rows[0][0])
    table = np.array([[row[0][key] for key in keys] for row in rows])
    true = np.array([row[1] for row in rows], float)
    fold = np.random.default_rng(3).integers(0, 5, len(rows))
    held_out = np.zeros(len(rows))
    for number in range(5):
        held_out[fold == number] = fit(table[fold != number], true[fold != number])(table[fold == number])
    print(f"\n{name}: {len(rows)} candidates, {int(true.sum())} true")
    bins = np.clip((held_out * 10).astype(int), 0, 9)
    ece = sum(
        abs(held_out[bins == b].mean() - true[bins == b].mean()) * (bins == b).mean() for b in set(bins)
    )
    print(f"expected calibration error {ece:.3f}")
    for ratio in sorted({row[2] for row in rows}):
        here = np.array([row[2] == ratio for row in rows])
        fired = held_out >= 0.5
        print(
            f"  {ratio:>5} dB: true fired {int((fired & here & (true > 0)).sum())}"
            f" of {int(true[here].sum())},"
            f" false fired {int((fired & here & (true == 0)).sum())} of {int((here & (true == 0)).sum())}"
        )
    model = fit(table, true)
    print("    intercept", round(float(model(np.zeros((1, len(keys))), raw=True)[0]), 3))
    zero = model(np.zeros((1, len(keys))), raw=True)[0]
    for place, key in enumerate(keys):
        unit = np.zeros((1, len(keys)))
        unit[0, place] = 1.0
        print(f"    {key} {float(model(unit, raw=True)[0] - zero):.3f}")


class fit:  # noqa: N801 (reads as the function that it stands for)
    """Logistic regression by Newton's method on standardised columns, with a ridge of 1."""

    def __init__(self, table: NDArray[np.float64], true: NDArray[np.float64]) -> None:
        self.mean, self.spread = table.mean(axis=0), table.std(axis=0) + 1e-9
        design = self._design(table)
        ridge = np.eye(design.shape[1])
        ridge[0, 0] = 0
        self.weights = np.zeros(design.shape[1])
        for _ in range(30):
            p = 1 / (1 + np.exp(-design @ self.weights))
            gradient = design.T @ (true - p) - ridge @ self.weights
            curvature = (design * (p * (1 - p))[:, None]).T @ design + ridge
            self.weights += np.linalg.solve(curvature, gradient)

    def _design(self, table: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.column_stack((np.ones(len(table)), (table - self.mean) / self.spread))

    def __call__(self, table: NDArray[np.float64], *, raw: bool = False) -> NDArray[np.float64]:
        """Return the probability of each row, or its log odds."""
        log_odds = self._design(table) @ self.weights
        return np.asarray(log_odds if raw else 1 / (1 + np.exp(-log_odds)))


def say(voice: tuple[str, str], text: str) -> Wave:
    """Return a synthetic voice saying the text."""
    engine, name = voice
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "said.wav"
        command = (
            ["flite", "-voice", name, "-t", text, "-o", str(path)]
            if engine == "flite"
            else ["espeak-ng", "-v", name, "-s", "150", "-w", str(path), text]
        )
        subprocess.run(command, check=True)
        return wave(path)


def pieces(
    said: list[tuple[str | None, Wave]], chance: random.Random, *, pause_s: float = 0.3
) -> tuple[Wave, list[Spoken]]:
    """Put pieces of speech one after the other, and say where each phrase lies."""
    parts: list[Wave] = [quiet(chance.uniform(0.6, 1.0))]
    spoken: list[Spoken] = []
    for phrase, sound in said:
        begin = sum(map(len, parts))
        parts += [sound, quiet(pause_s)]
        if phrase:
            spoken.append((phrase, begin, begin + len(sound)))
    return np.concatenate((*parts, quiet(0.7))), spoken


def noisy(sound: Wave, babble: Wave, ratio: float | None, chance: random.Random) -> Wave:
    """Mix in babble, `ratio` dB under the sound's own loud parts, at a level of a microphone's."""
    level = loudness(sound)
    mixed = sound.astype(np.float64)
    if ratio is not None:
        at = chance.randrange(len(babble))
        mixed += np.resize(np.roll(babble, -at), len(sound)) * level * 10 ** (-ratio / 20)
    mixed += np.random.default_rng(1).normal(0, level * 0.003, len(sound))
    return (mixed * 10 ** (chance.uniform(-30, -20) / 20) / level).astype(np.float32)


def overlaid(talk: list[Wave], voices: int = 16) -> Wave:
    """Return two minutes of many voices at once, at a level of 1."""
    chance = np.random.default_rng(5)
    whole_talk = np.concatenate(talk)
    total = np.zeros(120 * SAMPLE_RATE, np.float32)
    for _ in range(voices):
        faster = soxr.resample(
            np.roll(whole_talk, chance.integers(len(whole_talk))), 1.0, 1 / chance.uniform(0.85, 1.2)
        )
        part = np.resize(faster, len(total))
        total += part / loudness(part)
    return (total / loudness(total)).astype(np.float32)


def loudness(sound: Wave) -> float:
    """Return the root mean square of the loud parts."""
    power = np.array([np.mean(sound[at : at + 400] ** 2) for at in range(0, max(1, len(sound) - 400), 400)])
    return float(np.sqrt(power[power >= power.max() * 0.02].mean())) + 1e-9


def trimmed(folder: Path) -> list[Wave]:
    """Return the folder's recordings without the silence around them."""
    sounds = []
    for path in sorted(folder.iterdir()):
        sound = wave(path)
        power = np.convolve(sound**2, np.ones(800) / 800, "same")
        loud = np.flatnonzero(power > power.max() * 0.003)
        sounds.append(sound[max(0, loud[0] - 800) : loud[-1] + 800])
    return sounds


def wave(path: Path) -> Wave:
    """Return a file's sound, full scale 1."""
    return (whole(path) / 32768).astype(np.float32)


def quiet(seconds: float) -> Wave:
    """Return silence."""
    return np.zeros(int(seconds * SAMPLE_RATE), np.float32)


if __name__ == "__main__":
    main()
