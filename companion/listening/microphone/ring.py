"""A ring of sound between one writer that must not wait and one reader."""

import numpy as np
from numpy.typing import NDArray


class Ring:
    """Room for `frames` frames of `channels` 16-bit samples, allocated once.

    Exactly one thread writes and exactly one reads; neither takes a lock. What finds no room is
    dropped whole and counted, so that what is in the ring is always one unbroken stretch of calls.
    """

    def __init__(self, frames: int, channels: int) -> None:
        self._room = np.zeros((frames, channels), np.int16)
        self._written = 0
        self._read = 0
        self.dropped = 0

    def write(self, frames: NDArray[np.int16]) -> bool:
        """Copy `frames` (n × channels) in; False, and counted in `dropped`, where there is no room."""
        size, count = len(self._room), len(frames)
        if self._written - self._read + count > size:
            self.dropped += count
            return False
        start = self._written % size
        first = min(count, size - start)
        self._room[start : start + first] = frames[:first]
        self._room[: count - first] = frames[first:]
        self._written += count
        return True

    def read(self) -> NDArray[np.int16]:
        """Return all that was written since the last read (n × channels, a copy; n may be 0)."""
        size, written = len(self._room), self._written
        start, end = self._read % size, written % size
        if self._read == written:
            return self._room[:0].copy()
        if start < end:
            sound = self._room[start:end].copy()
        else:
            sound = np.concatenate((self._room[start:], self._room[:end]))
        self._read = written
        return sound
