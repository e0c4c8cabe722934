"""How often sound is taken from the microphone: seldom while nobody speaks, since to wake is what costs."""

import numpy as np

from companion.listening.microphone.gate import FRAME, RoomFloor
from companion.listening.sound import SAMPLE_RATE, Sound

EMPTY_EVERY_S = 0.06
EMPTY_QUIET_EVERY_S = 0.16
"""Each piece of sound wakes four threads of two processes; in a quiet room nothing waits for it."""
AWAKE_S = 1.0
"""How long nothing must have stood out before a room is quiet. The speech gate closes sooner, and with it
everything is decided that was said: no mark comes later."""


class Pace:
    """Takes the sound of a microphone, and says when to take the next."""

    def __init__(self) -> None:
        self._floor = RoomFloor()
        self._rest: Sound = np.zeros(0, np.int16)
        self._quiet_frames = 0

    def hear(self, sound: Sound) -> None:
        """Take the next sound, of any length."""
        sound = np.concatenate((self._rest, sound))
        whole = len(sound) // FRAME * FRAME
        self._rest = sound[whole:]
        for frame in sound[:whole].reshape(-1, FRAME):
            self._quiet_frames = 0 if self._floor.is_exceeded_by(frame) else self._quiet_frames + 1

    @property
    def wait_s(self) -> float:
        """How long sound may now gather in the ring."""
        return EMPTY_EVERY_S if self._quiet_frames * FRAME < AWAKE_S * SAMPLE_RATE else EMPTY_QUIET_EVERY_S
