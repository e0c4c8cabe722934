"""Fits what each kind of evidence counts for who speaks (`speaker.EVIDENCE_WEIGHTS`).

`python -m tests.listening.fit_speaker FOLDER… [--voices FOLDER]`: each FOLDER holds one phrase said by many
people, `--voices` what `say_for_reporting` writes of voices that may be fitted on; eight manners of flite and
espeak-ng are said anew. Recordings that the network finds nearly alike (cosine above 0.8 in silence, where
people differ by 0.7 at most) count as of one speaker. Own takes and commands are heard as they are, at 10 dB
above the babble of takes, in rooms, and by a duller and a brighter microphone; others and resized voices as
they are and at 10 dB. A logistic regression gives the weights, each set of voices counting the same; where it
lies above 0 is moved until half as many of the own are refused, near and far, as by the rule for voices
without courses. Printed are the weights, and what both rules refuse and let pass: fitted on it, so nothing to
report. Seed 0.
"""

import argparse
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.signal import lfilter

from companion.listening.detection.takes import (
    CUE,
    Floats,
    babble,
    in_room,
    noisy,
    recordings,
    room,
    speech_in,
)
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.listening.voice.check import AFTER_S, BEFORE_S, BESIDE_S
from companion.listening.voice.course import distance, room_in
from companion.listening.voice.speaker import (
    HeardSpeaker,
    Speaker,
    above_room_db,
    evidence,
    heard_speaker,
    one_speaker,
    own_log_odds,
    take_speaker,
)
from tests.listening.measure_commands import vocabulary
from tests.listening.measure_speaker import resized
from tests.listening.speakers import say

MANNERS = (
    "flite:slt", "flite:rms", "flite:awb", "flite:kal16",
    "espeak:en-us", "espeak:en-gb+f2", "espeak:en-us+m5", "espeak:en-gb-scotland+f3",
)  # fmt: skip
PACES = (0.9, 0.94, 0.98, 1.0, 1.02, 1.06, 1.1, 1.14)
COMMANDS, OTHERS = 6, 14
"""Commands that each voice says, and other people that each person's takes are compared with."""
SAME, EQUAL = 0.8, 0.995
MOST_TAKES, FEWEST_OF_ONE = 5, 4
CHILD, LONGEST_S = 1.15, 5.0
NEAR, ROUGH = ("as it is", "10 dB"), ("far", "far, 10 dB", "dull", "bright")
REFUSED_IN = (*NEAR, *ROUGH[:2])
COUNTS = {"own": 1.0, "other": 0.7, "child": 0.3}


@dataclass(frozen=True, slots=True)
class Trial:
    """What is known of a phrase that was heard, against an enrolled voice."""

    of: str
    """The set of voices."""
    kind: str
    where: str
    evidence: tuple[float, ...]
    before: float
    """Log odds by the rule for voices without courses."""


@dataclass(frozen=True, slots=True)
class Clip:
    """A phrase as the check hears it."""

    child: bool
    where: str
    speaker: HeardSpeaker
    above_db: float
    speech: Sound
    beside: tuple[Sound, Sound]


def heard(said: Sound, child: bool, where: str, speech_s: float, rng: np.random.Generator) -> Clip:
    """Put a phrase into a place, and hear so much of it as the check compares."""
    voice = resized(said, CHILD) if child else said
    begin, end = (at + SAMPLE_RATE for at in speech_in(voice, 1.0))
    sound = np.pad(voice.astype(np.float64), SAMPLE_RATE)
    sound *= 12_000 / np.abs(sound).max()
    whole = np.rint(np.clip(_placed(sound, where, rng), -32768, 32767)).astype(np.int16)
    if where.endswith("10 dB"):
        whole = noisy(whole, babble(rng, len(whole)), 10.0)
    last = min(end, begin + round(speech_s * SAMPLE_RATE)) + round(AFTER_S * SAMPLE_RATE)
    speech = whole[begin - round(BEFORE_S * SAMPLE_RATE) : last]
    around = whole[begin - SAMPLE_RATE : end + SAMPLE_RATE]
    beside = round(BESIDE_S * SAMPLE_RATE)
    rest = whole[begin - SAMPLE_RATE : begin - beside], whole[end + beside : end + SAMPLE_RATE]
    return Clip(child, where, heard_speaker(speech), above_room_db(speech, around), speech, rest)


def _placed(sound: Floats, where: str, rng: np.random.Generator) -> Floats:
    if where.startswith("far"):
        sound = in_room(sound, room(rng))
    if where in ("dull", "bright"):
        shelf = lfilter([1, -0.5 if where == "dull" else 0.35], [1.0], sound)
        sound = shelf * np.sqrt(np.mean(sound**2) / np.mean(shelf**2))
    return sound + rng.normal(0, 2, len(sound))


def ways(said: Sound, speech_s: float, rng: np.random.Generator) -> list[Clip]:
    """Return a phrase in all places, and as a child's."""
    own = [heard(said, False, where, speech_s, rng) for where in (*NEAR, *ROUGH)]
    return own + [heard(said, True, where, speech_s, rng) for where in NEAR]


def trial(of: str, enrolled: Speaker, clip: Clip, own: bool) -> Trial:
    """Compare a clip with a voice."""
    apart = distance(clip.speech, room_in(clip.beside), enrolled.courses)
    known = evidence(enrolled, clip.speaker, clip.above_db, apart)
    kind = "child" if clip.child else "own" if own else "other"
    plain = replace(enrolled, courses=())
    return Trial(of, kind, clip.where, known, own_log_odds(plain, clip.speaker, clip.above_db))


def of_voices(of: str, said: Mapping[str, tuple[Sequence[Sound], Sequence[Sound]]]) -> Iterator[Trial]:
    """Yield all trials of voices that each said the cue, and cue and commands."""
    enrolled = {name: _enrolled(name, takes) for name, (takes, _) in said.items()}
    rng = np.random.default_rng(0)
    for speaker, (_, commands) in said.items():
        clips = list(chain.from_iterable(ways(one, enrolled[speaker].speech_s, rng) for one in commands))
        for name, voice in enrolled.items():
            yield from (
                trial(of, voice, clip, name == speaker)
                for clip in clips
                if name == speaker or (clip.where in NEAR and not clip.child)
            )


def _enrolled(name: str, takes: Sequence[Sound]) -> Speaker:
    voice = one_speaker([take_speaker(take) for take in takes])
    assert voice is not None, f"the takes of {name} are not clearly one voice"
    return voice


def of_people(folder: Path) -> Iterator[Trial]:
    """Yield all trials of one phrase by many people, each take left out of its speaker's own."""
    takes, rng = recordings(folder), np.random.default_rng(0)
    known = [take_speaker(take) for take in takes]
    groups = speakers([heard_speaker(take[slice(*speech_in(take))]) for take in takes])
    clips = [ways(take, LONGEST_S, rng) for take in takes]
    for group in (group for group in groups if len(group) >= FEWEST_OF_ONE):
        others = [take for other in groups if other is not group for take in other]
        for left_out in group:
            voice = one_speaker([known[take] for take in group if take != left_out][:MOST_TAKES])
            if voice is None:
                continue
            yield from (trial(folder.name, voice, clip, True) for clip in clips[left_out])
            for other in rng.choice(others, min(OTHERS, len(others)), replace=False):
                yield from (
                    trial(folder.name, voice, clip, False)
                    for clip in clips[int(other)]
                    if clip.where in NEAR and not clip.child
                )


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


def manners() -> dict[str, tuple[list[Sound], list[Sound]]]:
    """Return what flite and espeak-ng say."""
    words, rng = vocabulary(), np.random.default_rng(0)
    return {
        manner: (
            [say(f"{words.cue}", manner, pace) for pace in PACES],
            [
                say(f"{words.cue}, {words.phrases[at]}", manner, float(rng.uniform(0.92, 1.08)))
                for at in rng.permutation(len(words.phrases))[:COMMANDS]
            ],
        )
        for manner in MANNERS
    }


def fitted(trials: Sequence[Trial]) -> NDArray[np.float64]:
    """Return the weights, the last of which is moved so that half as many own are refused as before."""
    known = np.array([one.evidence for one in trials])
    spread = known.std(axis=0)
    spread[-1] = 1.0
    own = np.array([one.kind == "own" for one in trials])
    sets = sorted({one.of for one in trials})
    each = {
        (of, kind): sum(one.of == of and one.kind == kind for one in trials) for of in sets for kind in COUNTS
    }
    counts = np.array([COUNTS[one.kind] / each[one.of, one.kind] for one in trials]) * 1000 / len(sets)

    def loss(weights: NDArray[np.float64]) -> float:
        odds = known / spread @ weights
        return float(
            counts @ np.logaddexp(0, np.where(own, -odds, odds)) + 0.15 * weights[:-1] @ weights[:-1]
        )

    weights = np.asarray(minimize(loss, np.zeros(known.shape[1])).x / spread)
    refused = refusals(trials, [one.before for one in trials]) / 2
    low, high = -50.0, 50.0
    for _ in range(50):
        middle = (low + high) / 2
        moved = known @ weights + middle
        low, high = (low, middle) if refusals(trials, moved) <= refused else (middle, high)
    weights[-1] += high
    return weights


def refusals(trials: Sequence[Trial], odds: Sequence[float] | NDArray[np.float64]) -> float:
    """Return the share of own phrases refused, the mean over all sets and places."""
    shares: dict[tuple[str, str], list[bool]] = {}
    for one, log_odds in zip(trials, odds, strict=True):
        if one.kind == "own" and one.where in REFUSED_IN:
            shares.setdefault((one.of, one.where), []).append(log_odds < 0)
    return float(np.mean([np.mean(refused) for refused in shares.values()]))


def told(trials: Sequence[Trial], odds: Sequence[float] | NDArray[np.float64]) -> Iterator[str]:
    """Yield a line a set: what is refused of the own voice, and what passes of others."""
    for of in sorted({one.of for one in trials}):
        parts: dict[str, list[bool]] = {}
        for one, log_odds in zip(trials, odds, strict=True):
            if one.of == of:
                refused = one.kind == "own"
                name = f"{one.kind} {'refused' if refused else 'pass'}, {one.where}"
                parts.setdefault(name, []).append((log_odds < 0) == refused)
        yield f"  {of}: " + "; ".join(f"{name} {np.mean(part):.1%}" for name, part in sorted(parts.items()))


def main() -> None:
    """Fit, and print."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("people", type=Path, nargs="*")
    asked.add_argument("--voices", type=Path)
    given = asked.parse_args()
    trials = list(of_voices("flite and espeak-ng", manners()))
    for folder in given.people:
        trials += of_people(folder)
    if given.voices:
        said = {
            path.name: (recordings(path / CUE), recordings(path / "command"))
            for path in sorted(given.voices.iterdir())
        }
        trials += of_voices(given.voices.name, said)
    weights = fitted(trials)
    print("weights:", ", ".join(f"{weight:.1f}" for weight in weights))
    print("before:", *told(trials, [one.before for one in trials]), sep="\n")
    print("now:", *told(trials, np.array([one.evidence for one in trials]) @ weights), sep="\n")


if __name__ == "__main__":
    main()
