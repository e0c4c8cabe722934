"""What can be wrong with a microphone, and how it is noticed from the sound that comes, or does not."""

from collections import deque
from enum import StrEnum

import numpy as np

from companion.language import _, later
from companion.listening.sound import SAMPLE_RATE, Sound


class Trouble(StrEnum):
    """Why sound is not heard, or not well enough to be trusted."""

    GONE = "gone"
    TAKEN = "taken"
    FROZEN = "frozen"
    STALLED = "stalled"
    MUTED = "muted"
    FAINT = "faint"
    CLIPPING = "clipping"
    RATE = "rate"
    BEHIND = "behind"

    @property
    def reason(self) -> str:
        """What is the matter, in English, as the session log keeps it."""
        return _WORDS[self][0]

    @property
    def words(self) -> str:
        """What is the matter, in plain words that go on a sentence."""
        return _(self.reason)

    @property
    def remedy(self) -> str:
        """What the teacher can do."""
        return _(_WORDS[self][1])

    @property
    def noticed_after_s(self) -> float:
        """How long it has lasted already when it is noticed."""
        return _NOTICED_AFTER_S.get(self, 0.0)

    @property
    def mended_by_opening_anew(self) -> bool:
        """Whether closing and opening the device again can help."""
        return self not in (Trouble.FAINT, Trouble.CLIPPING, Trouble.BEHIND)


_WORDS = {
    Trouble.GONE: (later("the microphone is not there"), later("Plug it in; it is found again by itself.")),
    Trouble.TAKEN: (
        later("the microphone can't be opened; another program may hold it"),
        later("Close the other program, or choose another microphone in the settings."),
    ),
    Trouble.FROZEN: (
        later("the computer's sound system does not answer"),
        later("If this lasts, restart the computer."),
    ),
    Trouble.STALLED: (later("the microphone delivers nothing"), later("Unplug it and plug it in again.")),
    Trouble.MUTED: (
        later("the microphone delivers perfect silence: it is muted"),
        later("Look for a mute switch on the microphone, on the keyboard, and in the sound settings."),
    ),
    Trouble.FAINT: (
        later("speech reaches the microphone far too quietly to be heard"),
        later("Turn its level up in the sound settings, or bring it nearer; then say a sentence."),
    ),
    Trouble.CLIPPING: (
        later("the microphone is overdriven all the time"),
        later("Turn its level down in the sound settings, or move it away."),
    ),
    Trouble.RATE: (later("the microphone changed its speed"), later("It is opened anew by itself.")),
    Trouble.BEHIND: (
        later("the computer is too busy to keep up with the sound"),
        later("Close other programs, or plug the charger in."),
    ),
}

NO_CALL_S = 1.5
"""Longest time without any sound from an open device; healthy ones deliver every 20 ms."""
ZERO_S = 2.0
"""A run of exact zeros that no real room gives."""
SOUNDS_S = 0.3
"""Sound within this time is sound that is coming in."""
CLIPPED_TENTHS = 20
CLIPPED_SHARE = 0.6
"""Overdriven all the time: this share of the last `CLIPPED_TENTHS` tenths of a second touch full scale."""
FAINT_S = 10.0
"""About as long somebody has spoken before it is sure that speech is too quiet (`faint`)."""
RATE_WINDOW_S = 0.9
RATE_ERROR = 0.07
"""Two windows in a row, off in the same direction by more than this: no late call explains that,
and 44.1 kHz taken for 48 kHz is off by more."""
FULL_SCALE = 32_700


_NOTICED_AFTER_S = {
    Trouble.STALLED: NO_CALL_S,
    Trouble.MUTED: ZERO_S,
    Trouble.FAINT: FAINT_S,
    Trouble.CLIPPING: CLIPPED_SHARE * CLIPPED_TENTHS / 10,
    Trouble.RATE: 2 * RATE_WINDOW_S,
}


class Watch:
    """Watches one open device; all times are seconds on one monotonic clock.

    Every trouble but `FAINT`, which `faint` sees, is seen within three seconds of its beginning, and
    forgotten when the sound is good again.
    """

    def __init__(self, rate: int, now_s: float) -> None:
        """Watch a device that was opened at `rate` frames a second."""
        self._rate = rate
        self._last_s = now_s
        self._zeros = 0
        self._tail: Sound = np.zeros(0, np.int16)
        self._touched: deque[bool] = deque(maxlen=CLIPPED_TENTHS)
        self._window_began_s = now_s
        self._window_frames = 0
        self._last_error = 0.0
        self._wrong_rate = False

    def hear(self, sound: Sound, frames: int, now_s: float) -> None:
        """Take `sound` as the spotter gets it; the device delivered it as `frames` by `now_s`."""
        if not frames:
            return
        self._measure_rate(frames, now_s)
        self._last_s = now_s
        nonzero = np.flatnonzero(sound)
        self._zeros = len(sound) - 1 - int(nonzero[-1]) if len(nonzero) else self._zeros + len(sound)
        self._measure_clipping(sound)

    def forgive(self, now_s: float) -> None:
        """Count the time until `now_s`, in which nobody could listen, as the computer's fault."""
        self._last_s = now_s
        self._window_began_s, self._window_frames, self._last_error = now_s, 0, 0.0

    def trouble(self, now_s: float) -> Trouble | None:
        """Return what is wrong at `now_s`, the worst first, or None."""
        if now_s - self._last_s > NO_CALL_S:
            return Trouble.STALLED
        if self._wrong_rate:
            return Trouble.RATE
        if self._zeros >= ZERO_S * SAMPLE_RATE:
            return Trouble.MUTED
        if sum(self._touched) >= CLIPPED_SHARE * CLIPPED_TENTHS:
            return Trouble.CLIPPING
        return None

    def sounds(self, now_s: float) -> bool:
        """Whether real sound is coming in at `now_s`."""
        return now_s - self._last_s < SOUNDS_S and self._zeros < SOUNDS_S * SAMPLE_RATE

    def _measure_clipping(self, sound: Sound) -> None:
        step = SAMPLE_RATE // 10
        self._tail = np.concatenate((self._tail, sound))
        while len(self._tail) >= step:
            tenth, self._tail = self._tail[:step].astype(np.int32), self._tail[step:]
            self._touched.append(bool((np.abs(tenth) >= FULL_SCALE).any()))

    def _measure_rate(self, frames: int, now_s: float) -> None:
        if now_s - self._last_s > NO_CALL_S:
            self._window_began_s, self._window_frames, self._last_error = now_s, 0, 0.0
            return
        self._window_frames += frames
        elapsed_s = now_s - self._window_began_s
        if elapsed_s < RATE_WINDOW_S:
            return
        error = self._window_frames / (elapsed_s * self._rate) - 1
        both = min(abs(error), abs(self._last_error)) > RATE_ERROR
        self._wrong_rate = both and error * self._last_error > 0
        self._window_began_s, self._window_frames, self._last_error = now_s, 0, error
