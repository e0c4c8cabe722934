"""Whether a recorded take can be learnt from: said at once, so that it can be said again."""

from enum import StrEnum

import numpy as np

from companion.language import later
from companion.listening.detection.takes import speech_in
from companion.listening.microphone.gate import level_db
from companion.listening.sound import SAMPLE_RATE, Sound

SHORTEST_S = 0.25
"""Shorter sounds are a cough, a click or a chair."""
LONGEST_S = 3.5
"""Longer stretches hold more than the phrase."""
QUIETEST_DBFS = -55.0
LEAST_ABOVE_ROOM_DB = 8.0
"""A phrase that stands out less than this is lost in what surrounds it."""
FULL_SCALE = 32_700
MOST_CLIPPED = 8
"""Samples at full scale that a clean take may have."""
PAUSE_S = 0.1
"""Quiet that a whole take has before it and after it."""


class Fault(StrEnum):
    """Why a take is asked for again. The value is what the teacher is told."""

    NOTHING = later("that was too short to be a phrase")
    LONG = later("that was more than the phrase; say only the phrase, then pause")
    QUIET = later("that was too quiet; speak up, or come nearer to the microphone")
    CLIPPED = later("that was too loud for the microphone; turn its level down or step back")
    CUT = later("the beginning or the end is cut off; pause before and after the phrase")


def is_clipped(sound: Sound) -> bool:
    """Tell whether the sound is cut off at full scale: it was too loud for the microphone."""
    return int(np.count_nonzero(np.abs(sound.astype(np.int32)) >= FULL_SCALE)) > MOST_CLIPPED


def fault_of(take: Sound, *, gap: bool = False) -> Fault | None:
    """Return what is wrong with a take, or None where it is good.

    gap: whether the computer lost sound while the take was recorded.
    """
    begin, end = speech_in(take)
    length_s = (end - begin) / SAMPLE_RATE
    if length_s < SHORTEST_S:
        return Fault.NOTHING
    if is_clipped(take):
        return Fault.CLIPPED
    if length_s > LONGEST_S:
        return Fault.LONG
    around = np.concatenate((take[:begin], take[end:]))
    level = level_db(take[begin:end])
    if level < QUIETEST_DBFS or (len(around) and level - level_db(around) < LEAST_ABOVE_ROOM_DB):
        return Fault.QUIET
    pause = int(PAUSE_S * SAMPLE_RATE)
    if gap or begin < pause or len(take) - end < pause:
        return Fault.CUT
    return None
