"""What the tones are, synthesised here: they differ in rhythm and direction, not only in pitch."""

import math
from array import array
from enum import StrEnum
from functools import cache
from itertools import chain

EDGE_S = 0.012
"""Length of each note's fade in; without it a note begins with a click."""
DECAY_S = 0.11
"""Time in which a note falls to 1/e."""
TAIL_S = 0.15
"""Silence after each tone: sound systems swallow the last moments of what they are given."""


class Tone(StrEnum):
    """What there is to tell."""

    PRAISE = "praise"
    REMINDER = "reminder"
    UNDO = "undo"
    NOTE = "note"
    REFUSAL = "refusal"
    WAITING = "waiting"
    """It was taken, but is not in the log yet."""
    QUESTION = "question"
    """It was not done: is it really meant?"""
    NUDGE = "nudge"
    """Nothing was recorded: a thought for the teacher."""


NOTES: dict[Tone, tuple[tuple[float, float], ...]] = {
    Tone.PRAISE: ((660.0, 0.10), (990.0, 0.20)),
    Tone.REMINDER: ((392.0, 0.30),),
    Tone.UNDO: ((880.0, 0.08), (660.0, 0.08), (440.0, 0.18)),
    Tone.NOTE: ((523.0, 0.07), (0.0, 0.06), (523.0, 0.14)),
    Tone.WAITING: ((523.0, 0.06), (0.0, 0.03), (523.0, 0.06), (523.0, 0.06), (0.0, 0.03), (392.0, 0.14)),
    Tone.QUESTION: ((330.0, 0.10), (0.0, 0.05), (330.0, 0.10), (494.0, 0.22)),
    Tone.REFUSAL: ((196.0, 0.12), (0.0, 0.04), (196.0, 0.12), (0.0, 0.04), (196.0, 0.12)),
    Tone.NUDGE: ((494.0, 0.16), (415.0, 0.26)),
}
"""Pitch in hertz (0 is a rest) and length in seconds of each tone's notes."""

SOFT = {Tone.NUDGE: 0.5}
"""How loud a tone is beside the others, where it is softer."""


@cache
def sound_of(tone: Tone, rate: int, volume: float = 1.0) -> "array[float]":
    """Return `tone` as 32-bit samples between -1 and 1 at `rate` a second, with silence at its end."""
    loudness = volume * SOFT.get(tone, 1.0)
    notes = (_note(pitch, length_s, rate, loudness) for pitch, length_s in NOTES[tone])
    return array("f", chain(*notes, [0.0] * round(TAIL_S * rate)))


def _note(pitch: float, length_s: float, rate: int, volume: float) -> list[float]:
    """Return one note: a sine with two soft overtones, so that small loudspeakers carry the low ones too."""
    samples = []
    for number in range(round(length_s * rate)):
        at_s = number / rate
        turn = 2 * math.pi * pitch * at_s
        wave = (math.sin(turn) + 0.4 * math.sin(2 * turn) + 0.2 * math.sin(3 * turn)) / 1.6
        fade = min(at_s / EDGE_S, 1.0) * min((length_s - at_s) / EDGE_S, 1.0)
        samples.append(volume * wave * fade * math.exp(-at_s / DECAY_S))
    return samples
