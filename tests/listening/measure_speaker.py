"""How often the own voice is refused and how often others pass.

Usage: python -m tests.listening.measure_speaker FOLDER: six voices that `say_for_reporting` lets say
cue and commands; enrolled on eight takes of the cue, each hears its own commands, those of all others, and
its own as a child would say them, as the check hears them when they are decided in a lesson, in a quiet room,
beneath the benchmark's own noise at 10 dB, and rehearsed and heard in its rooms; without the takes' courses,
and with them (seed 0; in brackets Wilson's 95 %). With `--ear` the whole ear hears them that learnt each
voice, places and all, and what it makes of them is told; some minutes a voice.
"""

import multiprocessing
import sys
from dataclasses import replace
from itertools import product
from pathlib import Path

import numpy as np
import soxr

from companion.bench.conditions import LEAD, Condition, place
from companion.lesson.chance import Share, share
from companion.listening.candidate import Candidate
from companion.listening.detection.enrolled_spotter import COMMAND_SETTLED_IN_NOISE
from companion.listening.detection.takes import CUE, recordings, speech_in
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.listening.spotter import hear_whole
from companion.listening.voice.check import VoiceCheck
from companion.listening.voice.enrolled_engine import learn_voice, new_spotter
from companion.listening.voice.speaker import Speaker, one_speaker, take_speaker
from tests.listening.measure_commands import vocabulary

CHILDREN = {"own voice": 1.0, "own voice x 1.15": 1.15, "own voice x 1.2": 1.2, "own voice x 1.3": 1.3}
PLACES = (Condition(False, None), Condition(False, 10.0), Condition(True, None))


def resized(speech: Sound, times: float) -> Sound:
    """Return speech with pitch and formants so many times as high."""
    sound = soxr.resample(speech.astype(np.float64), SAMPLE_RATE, SAMPLE_RATE / times)
    return np.asarray(np.clip(sound, -32768, 32767), np.int16)


def six_voices(folder: Path) -> None:
    """Print how many of each kind of voice make a mark."""
    voices = [path for path in sorted(folder.iterdir()) if (path / CUE).is_dir()]
    commands = {path.name: recordings(path / "command") for path in voices}
    tried: list[tuple[str, Speaker, Sound, Condition, int]] = []
    for condition, path in product(PLACES, voices):
        rehearsed = replace(condition, snr_db=None)
        takes = [
            place(take, rehearsed, (), np.random.default_rng((1, number)))
            for number, take in enumerate(recordings(path / CUE))
        ]
        enrolled = one_speaker([take_speaker(take) for take in takes])
        assert enrolled is not None, f"the takes of {path.name} are not clearly one voice"
        for name, said in commands.items():
            kinds = CHILDREN if name == path.name else {"anybody else": 1.0}
            tried += [
                (kind, enrolled, resized(command, times), condition, number)
                for kind, times in kinds.items()
                for number, command in enumerate(said)
            ]
    with multiprocessing.get_context("fork").Pool() as pool:
        passed = pool.starmap(_passes, [rest for _, *rest in tried], chunksize=8)
    made: dict[tuple[str, str], list[tuple[bool, bool]]] = {}
    for (kind, _, _, condition, _), through in zip(tried, passed, strict=True):
        made.setdefault((condition.name, kind), []).append(through)
    for (where, kind), marks in made.items():
        without, now = (share(sum(rule), len(rule)) for rule in zip(*marks, strict=True))
        print(f"{where}: {kind}, of {len(marks)}: {_told(without)} without courses, {_told(now)} now")


def whole_ear(folder: Path) -> None:
    """Print what ears that learnt each voice make of all commands."""
    words = vocabulary()
    voices = [path for path in sorted(folder.iterdir()) if (path / CUE).is_dir()]
    made: dict[tuple[str, str, str], list[bool]] = {}
    for path in voices:
        learnt = learn_voice(words, {f"{words.cue}": recordings(path / CUE)})
        assert learnt.speaker is not None, f"the takes of {path.name} are not clearly one voice"
        without = replace(learnt, speaker=replace(learnt.speaker, courses=()))
        for (rule, known), other, condition in product(
            (("without courses", without), ("now", learnt)), voices, PLACES[:2]
        ):
            new, who = new_spotter(words, known), "own voice" if other == path else "anybody else"
            for number, said in enumerate(recordings(other / "command")):
                sound = place(said, condition, (), np.random.default_rng((0, number, len(said))))
                fired = any(found.fired for found in hear_whole(new(), sound))
                made.setdefault((condition.name, who, rule), []).append(fired)
    for (where, who, rule), marks in made.items():
        print(f"{where}: {who}, of {len(marks)}: {_told(share(sum(marks), len(marks)))} {rule}")


def _told(part: Share) -> str:
    return f"{part.value:.1%} ({part.low:.0%}–{part.high:.0%})"


def _passes(enrolled: Speaker, clip: Sound, condition: Condition, number: int) -> tuple[bool, bool]:
    """Say whether a cue and a command that were found where they are pass, without courses and now."""
    sound = place(clip, condition, (), np.random.default_rng((0, number, len(clip))))
    begin, end = (at + LEAD for at in speech_in(clip, 1.0))
    heard = sound[: end + COMMAND_SETTLED_IN_NOISE]
    found = Found(begin * 1000 // SAMPLE_RATE, end * 1000 // SAMPLE_RATE)
    rules = VoiceCheck(found, replace(enrolled, courses=())), VoiceCheck(found, enrolled)
    without, now = (check.hear(heard)[0].fired for check in rules)
    return without, now


class Found:
    """A spotter that finds cue and command at a place (ms)."""

    name = "found"

    def __init__(self, begin_ms: int, end_ms: int) -> None:
        self._found = Candidate("praise", begin_ms, end_ms, end_ms, 0.9, True, self.name)

    def hear(self, block: Sound) -> list[Candidate]:  # noqa: ARG002 - it knows
        """Find it at once."""
        return [self._found]

    def finish(self) -> list[Candidate]:
        """Find nothing more."""
        return []


if __name__ == "__main__":
    measure = whole_ear if "--ear" in sys.argv else six_voices
    measure(Path(sys.argv[1]))
