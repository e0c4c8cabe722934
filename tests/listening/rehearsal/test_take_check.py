"""Takes that can't be learnt from are told by what is wrong with them."""

import numpy as np
import pytest

from companion.listening.rehearsal.take_check import Fault, fault_of
from companion.listening.sound import SAMPLE_RATE, Sound
from tests.listening.speakers import SPEAKERS, say


def take(speech: Sound, gain: float = 1.0, noise: float = 5.0) -> Sound:
    """Return speech with half a second of a quiet room around it."""
    room = np.random.default_rng(1).normal(0, noise, len(speech) + SAMPLE_RATE)
    room[SAMPLE_RATE // 2 : -SAMPLE_RATE // 2] += gain * speech
    return np.clip(np.rint(room), -32768, 32767).astype(np.int16)


@pytest.mark.parametrize("speaker", SPEAKERS)
def test_a_phrase_with_a_pause_around_it_is_good(speaker: str) -> None:
    """Whoever says it, and at half the level too."""
    assert fault_of(take(say("velvet compass", speaker), 0.6)) is None
    assert fault_of(take(say("velvet compass", speaker), 0.1)) is None


def test_each_fault_is_told() -> None:
    """Too quiet, drowned by the room, overdriven, cut off, too much, or nothing at all."""
    said = say("velvet compass")
    good = take(said, 0.6)
    assert fault_of(take(said, 0.003, noise=1)) is Fault.QUIET
    assert fault_of(take(said, 0.6, noise=3000)) is Fault.QUIET
    assert fault_of(take(said, 9.0)) is Fault.CLIPPED
    assert fault_of(good[SAMPLE_RATE:]) is Fault.CUT
    assert fault_of(good[: -SAMPLE_RATE * 3 // 4]) is Fault.CUT
    assert fault_of(good, gap=True) is Fault.CUT
    talk = say("please put the watering cans back on the shelf and wash your hands before you sit down")
    assert fault_of(take(talk, 0.6)) is Fault.LONG
    click = np.zeros(SAMPLE_RATE, np.int16)
    click[8000:8400] = 9000
    assert fault_of(click) is Fault.NOTHING
