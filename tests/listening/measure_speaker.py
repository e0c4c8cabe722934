"""How often the own voice is refused and how often others pass, on real recordings of one phrase.

Usage: python -m tests.listening.measure_speaker FOLDER, which holds recordings of one phrase by many people,
several of some. Speakers need no labels: recordings that the network finds nearly alike (cosine above 0.8 in
silence, where people differ by 0.7 at most) count as of one speaker. That is circular for the figure in
silence, and less so for noise, rooms and shifted voices.
"""

import sys
from collections.abc import Callable, Mapping
from itertools import chain
from pathlib import Path

import numpy as np
import soxr

from companion.listening.candidate import SAMPLE_RATE, Sound
from companion.listening.enrolment import babble, in_room, noisy, recordings, room, speech_in
from companion.listening.speaker import Speaker, heard_speaker, is_another, one_speaker, take_speaker

SAME, EQUAL = 0.8, 0.995
MOST_TAKES = 5
FEWEST_OF_ONE = 4
CHILD = "as a child, pitch and formants x "

Change = Callable[[Sound], Sound]


def changes(rng: np.random.Generator) -> Mapping[str, Change]:
    """Return what is done to a recording before it is heard."""

    def far(speech: Sound) -> Sound:
        return np.clip(in_room(speech.astype(np.float64), room(rng)), -32768, 32767).astype(np.int16)

    def talk(snr_db: float) -> Change:
        return lambda speech: noisy(speech, babble(rng, len(speech)), snr_db)

    def child(times: float) -> Change:
        return lambda speech: np.clip(
            soxr.resample(speech.astype(np.float64), SAMPLE_RATE, SAMPLE_RATE / times), -32768, 32767
        ).astype(np.int16)

    found = {
        "in silence": lambda speech: speech,
        "beneath talk, 10 dB": talk(10),
        "beneath talk, 5 dB": talk(5),
    }
    return found | {"in a room": far} | {f"{CHILD}{times}": child(times) for times in (1.2, 1.3, 1.4, 1.6)}


def speakers(voices: list[Speaker]) -> list[list[int]]:
    """Return the recordings of each speaker, without doubled ones."""
    alike = np.stack([voice.direction for voice in voices]) @ np.stack([v.direction for v in voices]).T
    groups: list[list[int]] = []
    for number in range(len(voices)):
        if any(alike[number, other] > EQUAL for group in groups for other in group):
            continue
        near = [group for group in groups if any(alike[number, other] > SAME for other in group)]
        groups = [group for group in groups if group not in near] + [[number, *chain.from_iterable(near)]]
    return groups


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
        heard = [heard_speaker(change(said)) for said in speech]
        own, others = [], []
        for group in several:
            for left_out in group:
                voice = one_speaker([enrolled[take] for take in group if take != left_out][:MOST_TAKES])
                if voice is None:
                    continue
                own.append(not is_another(voice, heard[left_out]))
                strangers = chain.from_iterable(other for other in groups if other is not group)
                others += [not is_another(voice, heard[take]) for take in strangers]
        rest = "" if name.startswith(CHILD) else f", others pass {np.mean(others):.1%} of {len(others)}"
        print(f"{name}: own voice passes {np.mean(own):.1%} of {len(own)}{rest}")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
