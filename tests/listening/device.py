"""A scripted microphone device, for what no sound server can be brought to do."""

import numpy as np
from numpy.typing import NDArray

from companion.clock import steady_s


class Scripted:
    """A device that delivers 400 Hz at 48 kHz on the left of two channels, in real time."""

    rate = 48_000
    ended = False

    def __init__(self) -> None:
        """Begin now."""
        self.lost_frames = 0
        self.last_call_s = steady_s()
        self.closed = False
        self._frames = 0
        self._began_s = self.last_call_s

    def read(self) -> NDArray[np.int16]:
        """Return what a real device would have delivered since the last read."""
        self.last_call_s = steady_s()
        until_frame = round((self.last_call_s - self._began_s) * self.rate)
        times = np.arange(self._frames, until_frame) / self.rate
        self._frames = until_frame
        left = (8000 * np.sin(2 * np.pi * 400 * times)).astype(np.int16)
        return np.stack((left, np.zeros_like(left)), axis=1)

    def close(self) -> None:
        """Note that the device was given back."""
        self.closed = True
