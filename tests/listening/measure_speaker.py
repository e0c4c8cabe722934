"""How often the own voice is refused and how often others pass, on real recordings of one phrase.

Usage: python -m tests.listening.measure_speaker FOLDER, which holds recordings of one phrase by many people,
several of some. Speakers need no labels: recordings that the network finds nearly alike (cosine above 0.8 in
silence, where people differ by 0.7 at most) count as of one speaker. That is circular for the figure in
silence, and less so for noise, rooms and resized voices. Those differ from the own voice in nothing else, and
much as the check warps them: real voices differ in more, and are not told by their size alone.
"""

import sys
from collections.abc import Callable, Mapping, Sequence
from itertools import chain
from pathlib import Path

import numpy as np
import soxr

from companion.listening.detection.takes import babble, in_room, noisy, recordings, room, speech_in
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.listening.voice.check import AFTER_S, BEFORE_S
from companion.listening.voice.speaker import Speaker, heard_speaker, one_speaker, own_log_odds, take_speaker

SAME, EQUAL = 0.8, 0.995
MOST_TAKES = 5
FEWEST_OF_ONE = 4
RESIZED = "pitch and formants x "
TIMES = (0.77, 0.83, 0.87, 1.15, 1.2, 1.3, 1.4, 1.6)

Change = Callable[[Sound], Sound]


def changes(rng: np.random.Generator) -> Mapping[str, Change]:
    """Return what is done to a recording before it is heard."""

    def far(speech: Sound) -> Sound:
        return np.clip(in_room(speech.astype(np.float64), room(rng)), -32768, 32767).astype(np.int16)

    def talk(snr_db: float) -> Change:
        return lambda speech: noisy(speech, babble(rng, len(speech)), snr_db)

    def resized(times: float) -> Change:
        return lambda speech: np.clip(
            soxr.resample(speech.astype(np.float64), SAMPLE_RATE, SAMPLE_RATE / times), -32768, 32767
        ).astype(np.int16)

    found = {
        "in silence": lambda speech: speech,
        "beneath talk, 10 dB": talk(10),
        "beneath talk, 5 dB": talk(5),
    }
    return found | {"in a room": far} | {f"{RESIZED}{times}": resized(times) for times in TIMES}


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


def around_speech(take: Sound) -> Sound:
    """Return as much of a take as the check cuts out when it hears one."""
    begin, end = speech_in(take)
    return take[max(0, begin - round(BEFORE_S * SAMPLE_RATE)) : end + round(AFTER_S * SAMPLE_RATE)]


def main(folder: Path) -> None:
    """Print the table."""
    rng = np.random.default_rng(1)
    takes = recordings(folder)
    speech = [take[slice(*speech_in(take))] for take in takes]
    groups = speakers([heard_speaker(said) for said in speech])
    cuts = [around_speech(take) for take in takes]
    enrolled = [take_speaker(take) for take in takes]
    several = [group for group in groups if len(group) >= FEWEST_OF_ONE]
    print(f"{sum(map(len, groups))} recordings, {len(groups)} speakers, {len(several)} of them enrolled")
    for name, change in changes(rng).items():
        heard = [heard_speaker(change(cut)) for cut in cuts]
        own, others = [], []
        for group in several:
            for left_out in group:
                voice = one_speaker([enrolled[take] for take in group if take != left_out][:MOST_TAKES])
                if voice is None:
                    continue
                own.append(own_log_odds(voice, heard[left_out]) >= 0)
                strangers = chain.from_iterable(other for other in groups if other is not group)
                others += [own_log_odds(voice, heard[take]) >= 0 for take in strangers]
        rest = "" if name.startswith(RESIZED) else f", others pass {np.mean(others):.1%} of {len(others)}"
        print(f"{name}: own voice passes {np.mean(own):.1%} of {len(own)}{rest}")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
