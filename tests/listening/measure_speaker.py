"""How often the own voice is refused and how often others pass.

Usage: python -m tests.listening.measure_speaker --voices FOLDER: six voices that `say_for_reporting` lets say
cue and commands; enrolled on eight takes of the cue, each hears its own commands, those of all others, and
its own as a child would say them, as the check hears them in a lesson, in a quiet room and beneath the
benchmark's own noise at 10 dB (seed 0; in brackets Wilson's 95 %).

python -m tests.listening.measure_speaker FOLDER, which holds recordings of one phrase by many people,
several of some. Speakers need no labels: recordings that the network finds nearly alike (cosine above 0.8 in
silence, where people differ by 0.7 at most) count as of one speaker. That is circular for the figure in
silence, and less so for noise, rooms and resized voices. Those differ from the own voice in nothing else, and
much as the check warps them: real voices differ in more, and are not told by their size alone.
"""

import multiprocessing
import sys
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from itertools import chain, product
from pathlib import Path

import numpy as np
import soxr

from companion.bench.conditions import LEAD, Condition, place
from companion.lesson.chance import share
from companion.listening.candidate import Candidate
from companion.listening.detection.takes import (
    CUE,
    babble,
    in_room,
    noisy,
    recordings,
    room,
    speech_in,
)
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.listening.voice.check import AFTER_S, BEFORE_S, VoiceCheck
from companion.listening.voice.speaker import (
    HeardSpeaker,
    Speaker,
    above_room_db,
    heard_speaker,
    one_speaker,
    own_log_odds,
    take_speaker,
)

SAME, EQUAL = 0.8, 0.995
MOST_TAKES = 5
FEWEST_OF_ONE = 4
RESIZED = "pitch and formants x "
CHILDREN = {"own voice": 1.0, "own voice x 1.15": 1.15, "own voice x 1.2": 1.2, "own voice x 1.3": 1.3}
TIMES = (0.77, 0.83, 0.87, 1.15, 1.2, 1.3, 1.4, 1.6)

Change = Callable[[Sound], Sound]


def changes(rng: np.random.Generator) -> Mapping[str, Change]:
    """Return what is done to a recording before it is heard."""

    def far(speech: Sound) -> Sound:
        return np.clip(in_room(speech.astype(np.float64), room(rng)), -32768, 32767).astype(np.int16)

    def talk(snr_db: float) -> Change:
        return lambda speech: noisy(speech, babble(rng, len(speech)), snr_db)

    found = {
        "in silence": lambda speech: speech,
        "beneath talk, 10 dB": talk(10),
        "beneath talk, 5 dB": talk(5),
    }
    return (
        found | {"in a room": far} | {f"{RESIZED}{times}": partial(resized, times=times) for times in TIMES}
    )


def resized(speech: Sound, times: float) -> Sound:
    """Return speech with pitch and formants so many times as high."""
    sound = soxr.resample(speech.astype(np.float64), SAMPLE_RATE, SAMPLE_RATE / times)
    return np.asarray(np.clip(sound, -32768, 32767), np.int16)


def speakers(voices: Sequence[Speaker]) -> list[list[int]]:
    """Return the recordings of each speaker, without doubled ones."""
    alike = np.stack([voice.direction for voice in voices]) @ np.stack([v.direction for v in voices]).T
    groups: list[list[int]] = []
    for number in range(len(voices)):
        if any(alike[number, other] > EQUAL for group in groups for other in group):
            continue
        near = [group for group in groups if any(alike[number, other] > SAME for other in group)]
        groups = [group for group in groups if group not in near] + [[number, *chain.from_iterable(near)]]
    return groups


def heard_in(take: Sound, change: Change) -> tuple[HeardSpeaker, float]:
    """Return the voice as the check hears it, and how much louder it is than what was done around it."""
    padded = np.pad(take, SAMPLE_RATE // 2)
    sound = change(padded)
    begin, end = (place * len(sound) // len(padded) for place in speech_in(padded))
    speech = sound[begin - round(BEFORE_S * SAMPLE_RATE) : end + round(AFTER_S * SAMPLE_RATE)]
    return heard_speaker(speech), above_room_db(speech, sound)


def main(folder: Path) -> None:
    """Print the table."""
    rng = np.random.default_rng(1)
    takes = recordings(folder)
    speech = [take[slice(*speech_in(take))] for take in takes]
    groups = speakers([heard_speaker(said) for said in speech])
    enrolled = [take_speaker(take) for take in takes]
    several = [group for group in groups if len(group) >= FEWEST_OF_ONE]
    print(f"{sum(map(len, groups))} recordings, {len(groups)} speakers, {len(several)} of them enrolled")
    for name, change in changes(rng).items():
        heard = [heard_in(take, change) for take in takes]
        own, others = [], []
        for group in several:
            for left_out in group:
                voice = one_speaker([enrolled[take] for take in group if take != left_out][:MOST_TAKES])
                if voice is None:
                    continue
                own.append(own_log_odds(voice, *heard[left_out]) >= 0)
                strangers = chain.from_iterable(other for other in groups if other is not group)
                others += [own_log_odds(voice, *heard[take]) >= 0 for take in strangers]
        rest = "" if name.startswith(RESIZED) else f", others pass {np.mean(others):.1%} of {len(others)}"
        print(f"{name}: own voice passes {np.mean(own):.1%} of {len(own)}{rest}")


def six_voices(folder: Path) -> None:
    """Print how many marks each kind of voice makes."""
    voices = [path for path in sorted(folder.iterdir()) if (path / CUE).is_dir()]
    commands = {path.name: recordings(path / "command") for path in voices}
    tried: list[tuple[str, Speaker, Sound, Condition, int]] = []
    for condition, path in product((Condition(False, None), Condition(False, 10.0)), voices):
        enrolled = one_speaker([take_speaker(take) for take in recordings(path / CUE)])
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
    made: dict[tuple[str, str], list[bool]] = {}
    for (kind, _, _, condition, _), through in zip(tried, passed, strict=True):
        made.setdefault((condition.name, kind), []).append(through)
    for (where, kind), marks in made.items():
        part = share(sum(marks), len(marks))
        told = f"{part.value:.1%} ({part.low:.0%}–{part.high:.0%}) of {len(marks)}"
        print(f"{where}: {kind}: {told} make a mark")


def _passes(enrolled: Speaker, clip: Sound, condition: Condition, number: int) -> bool:
    """Say whether the check of a lesson lets a cue and a command pass that was found where it is."""
    sound = place(clip, condition, (), np.random.default_rng((0, number, len(clip))))
    begin, end = (place * 1000 // SAMPLE_RATE + LEAD * 1000 // SAMPLE_RATE for place in speech_in(clip, 1.0))
    check = VoiceCheck(Found(begin, end), enrolled)
    return check.hear(sound)[0].fired


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
    six_voices(Path(sys.argv[2])) if sys.argv[1] == "--voices" else main(Path(sys.argv[1]))
