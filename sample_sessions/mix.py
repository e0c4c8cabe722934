"""From a script to sound: every voice in its place, the room around it, and the level between them."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import soxr

from sample_sessions.room import Chance, clatter, heard_from, ventilation, water
from sample_sessions.script import Script, Stretch
from sample_sessions.truth import Said
from sample_sessions.voices import CHILDREN, RATE, Wave, speak

TEACHER_RMS = 0.055
"""Level of the teacher's commands in the finished sound, their median, full scale 1.0."""
COMMAND_SLOWER = 1.15
"""Commands are said a little slower than the rest."""
FADE_S = 2.0
"""How long the room takes from one stretch to the next."""
HEAD_AND_TAIL_S = 0.05
"""Silence kept around an utterance."""

CHATTER = (
    "can I have the blue one", "no it is my turn", "look at the big worm", "where does this go",
    "I need more water", "she took my trowel", "is it nearly lunch time", "mine is bigger than yours",
    "that smells really strange", "can you pass the bowl please", "we did this one already",
    "my shoe is wet", "put it over there", "I can not find the lid", "wait for me", "stop pushing",
    "this carrot looks like a nose", "how many do we need", "he said we could", "are you finished yet",
)  # fmt: skip
"""What the children say to each other, over and over."""


@dataclass(frozen=True, slots=True)
class Stems:
    """The parts of one sample before they are added; all of one length."""

    teacher: Wave
    others: Wave
    """Everybody else in the script."""
    room: Wave
    """Children's talk, dishes, water and ventilation, not scaled yet."""


def perform(script: Script, cue: str) -> tuple[Stems, list[Said]]:
    """Return the stems of `script` and when each line is heard, in order of time."""
    samples = int(script.length_s * RATE)
    teacher, others = np.zeros(samples), np.zeros(samples)
    said: list[Said] = []
    end_s = 0.0
    for number, line in enumerate(script.lines):
        # Each line draws from its own stream, so that a change in one leaves the others as they are.
        chance = np.random.default_rng((script.seed, number))
        text = f"{cue}, {line.say}.".capitalize() if line.command else line.say
        slower = line.slower * (COMMAND_SLOWER if line.command else 1.0)
        wave = speak(line.who, text, slower=slower, seed=script.seed + number)
        wave = np.pad(wave, int(HEAD_AND_TAIL_S * RATE)) * 10 ** (line.louder_db / 20)
        begin_s = end_s + line.after_s if line.at_s is None else line.at_s
        end_s = begin_s + len(wave) / RATE
        _place(teacher if line.who == "teacher" else others, begin_s, heard_from(wave, line.far_m, chance))
        said.append(Said(line, begin_s + HEAD_AND_TAIL_S, end_s - HEAD_AND_TAIL_S))
    if end_s > script.length_s:
        raise ValueError(f"the last line ends at {end_s:.1f} s, after the sound's {script.length_s} s")
    said.sort(key=lambda one: one.begin_s)
    _refuse_two_lines_at_once(said)
    return Stems(teacher, others, _room(script)), said


def mixed(stems: Stems, said: list[Said], teacher_to_room_db: float) -> tuple[Wave, Wave, Wave]:
    """Return the finished sound, and its two parts: the teacher, and all else.

    The room is scaled so that the commands' median ratio to all else is `teacher_to_room_db`.
    """
    low, high = 1e-4, 1e2
    for _ in range(40):  # The others are not scaled with the room, so the gain is found by halving.
        gain = float(np.sqrt(low * high))
        ratios = command_to_room_db(stems.teacher, stems.others + gain * stems.room, said)
        low, high = (gain, high) if np.median(ratios) > teacher_to_room_db else (low, gain)
    levels = [np.sqrt(np.mean(_span(stems.teacher, one) ** 2)) for one in said if one.line.command]
    scale = TEACHER_RMS / float(np.median(levels))
    teacher, rest = scale * stems.teacher, scale * (stems.others + gain * stems.room)
    return teacher + rest, teacher, rest


def command_to_room_db(teacher: Wave, rest: Wave, said: list[Said]) -> list[float]:
    """Return for each command the teacher's power over that of all else, from its begin to its end."""
    return [
        float(10 * np.log10(np.mean(_span(teacher, one) ** 2) / np.mean(_span(rest, one) ** 2)))
        for one in said
        if one.line.command
    ]


def _room(script: Script) -> Wave:
    samples = int(script.length_s * RATE)
    streams = [np.random.default_rng((script.seed, 10_000 + number)) for number in range(4)]
    return (
        _strength(script.stretches, "talk", samples) * _babble(samples, streams[0])
        + 0.7 * _strength(script.stretches, "dishes", samples) * clatter(samples, streams[1])
        + 0.5 * _strength(script.stretches, "water", samples) * water(samples, streams[2])
        + 0.08 * ventilation(samples, streams[3])
    )


def _babble(samples: int, chance: Chance) -> Wave:
    """Return all children talking across each other from their own places, at an RMS of 1."""
    sound = np.zeros(samples)
    for who in CHILDREN:
        texts = chance.choice(CHATTER, size=6, replace=False)
        words = [heard_from(speak(who, str(text)), chance.uniform(1.5, 6.0), chance) for text in texts]
        at_s = chance.uniform(0, 3)
        while at_s < samples / RATE:
            one = words[int(chance.integers(len(words)))] * np.exp(chance.normal(0, 0.35))
            _place(sound, at_s, one)
            at_s += len(one) / RATE + chance.exponential(1.5) - 0.4
    return np.asarray(sound / np.sqrt(np.mean(sound**2)))


def _strength(stretches: tuple[Stretch, ...], part: str, samples: int) -> Wave:
    """Return how strong `part` is at each sample, without steps between the stretches."""
    times, strengths = [0.0], [float(getattr(stretches[0], part))]
    for stretch in stretches[1:]:
        times += [stretch.from_s, stretch.from_s + FADE_S]
        strengths += [strengths[-1], float(getattr(stretch, part))]
    coarse = np.interp(np.arange(0, samples / RATE + 1, 0.1), times, strengths)
    return np.asarray(soxr.resample(coarse, 10, RATE, quality="LQ")[:samples].clip(0.0))


def _place(sound: Wave, begin_s: float, part: Wave) -> None:
    start = round(begin_s * RATE)
    room = sound[start : start + len(part)]
    room += part[: len(room)]


def _span(wave: Wave, one: Said) -> Wave:
    return wave[int(one.begin_s * RATE) : int(one.end_s * RATE)]


def _refuse_two_lines_at_once(said: list[Said]) -> None:
    """Raise ValueError where one voice would say two lines at once, or a command would be talked over."""
    for earlier, later in pairwise(said):
        same: bool = earlier.line.who == later.line.who
        if earlier.end_s > later.begin_s and (same or earlier.line.command or later.line.command):
            raise ValueError(
                f"“{later.line.say}” at {later.begin_s:.2f} s begins within “{earlier.line.say}”"
            )
