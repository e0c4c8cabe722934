"""How often sound is taken from the microphone."""

import numpy as np

from companion.listening.microphone.gate import FRAME, SpeechGate
from companion.listening.microphone.pace import AWAKE_S, EMPTY_EVERY_S, EMPTY_QUIET_EVERY_S, Pace
from companion.listening.sound import SAMPLE_RATE, Sound
from tests.listening.speakers import say


def noise(seconds: float) -> Sound:
    """Return the noise of a quiet room."""
    return np.random.default_rng(0).normal(0, 5, round(seconds * SAMPLE_RATE)).astype(np.int16)


def test_sound_is_taken_seldom_only_in_a_room_that_has_been_quiet() -> None:
    """A second of nothing but the room's noise makes it seldom, the first word makes it often again."""
    pace = Pace()
    assert pace.wait_s == EMPTY_EVERY_S
    pace.hear(noise(AWAKE_S / 2))
    assert pace.wait_s == EMPTY_EVERY_S
    pace.hear(noise(AWAKE_S))
    assert pace.wait_s == EMPTY_QUIET_EVERY_S
    pace.hear(np.concatenate((noise(0.1), say("praise")[: SAMPLE_RATE // 4])))
    assert pace.wait_s == EMPTY_EVERY_S


def test_while_the_gate_is_open_sound_is_taken_often() -> None:
    """Until the last piece of a stretch of speech has passed the gate, nothing waits longer than before."""
    gate, pace, is_open = SpeechGate(), Pace(), False
    sound = np.concatenate((noise(2), say("velvet compass, table four praise"), noise(3)))
    opened = 0
    for at in range(0, len(sound), FRAME):
        for speech in gate.hear(sound[at : at + FRAME]):
            is_open = not speech.last
        pace.hear(sound[at : at + FRAME])
        opened += is_open
        assert pace.wait_s == EMPTY_EVERY_S or not is_open
    assert opened
    assert pace.wait_s == EMPTY_QUIET_EVERY_S
