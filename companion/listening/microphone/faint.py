"""Speech that is there but too quiet to be heard, as where a microphone's level stands next to nothing."""

from collections import deque
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from companion.listening.microphone.gate import FRAME, speech_detector
from companion.listening.sound import Sound

AUDIBLE_DBFS = -52.0
"""How loud speech is that can be heard. Of the 16 phrases of a sample session, all fired with the loudest
parts of speech at −45 dBFS, 10 at −55, 3 at −59, and none at −65."""
LOUD_FRAMES = 6
"""A second is as loud as it is for these 0.2 s of it."""
SECOND_FRAMES = 31
ABOVE_FLOOR_DB = 6.0
"""What stands out less from the room's own noise is not even shown to the speech detector."""
KEPT_S, FLOOR_S, LOUDEST_S = 20, 10, 5
LEAST_S = 8
"""Seconds without anything audible before it is told."""
SPEECH_FRAMES = 78
"""So much speech (2.5 s) in the last `KEPT_S` seconds is somebody who speaks."""
SPEECH = 0.5
"""The detector's usual threshold."""
LIFTED_DBFS = -28.0
"""Loudness to which the detector is given quiet sound: that of speech at a microphone that is well set."""
FELL_DB = 20.0
"""A level that is turned down takes the room's noise with it. In the sample sessions that noise wanders by
15 dB from one moment to another; a level turned down by less than 20 dB leaves all phrases heard."""

OpenDetector = Callable[[], Callable[[bytes], float]]


class FaintSpeech:
    """Takes the sound of a microphone, and tells whether people speak there too quietly to be heard.

    A quiet room is not that, nor are people far away while the teacher is silent: what was heard well once
    makes a level good, until the room's noise falls with it.
    """

    def __init__(self, open_detector: OpenDetector = speech_detector) -> None:
        """open_detector: makes what gives the probability of speech in `FRAME` samples, when it is needed."""
        self.too_quiet = False
        """Whether it is so now: from the time when it is sure to the next audible sound."""
        self._open_detector = open_detector
        self._detector: Callable[[bytes], float] | None = None
        self._rest: Sound = np.zeros(0, np.int16)
        self._speech: deque[int] = deque(maxlen=KEPT_S)
        """Frames of speech in each second since anything was audible."""
        self._floors: deque[float] = deque(maxlen=FLOOR_S)
        self._louds: deque[float] = deque(maxlen=LOUDEST_S)
        self._good_floor_db: float | None = None
        """The room's noise when something was audible last."""

    def hear(self, sound: Sound) -> None:
        """Take the next sound, of any length."""
        self._rest = np.concatenate((self._rest, sound))
        step = SECOND_FRAMES * FRAME
        while len(self._rest) >= step:
            self._judge(self._rest[:step].reshape(SECOND_FRAMES, FRAME))
            self._rest = self._rest[step:]

    def _judge(self, frames: NDArray[np.int16]) -> None:
        power = np.mean(np.square(frames.astype(np.float64)), axis=1) / 32768.0**2
        levels = np.sort(10 * np.log10(power + 1e-12))
        loud_db = float(levels[-LOUD_FRAMES])
        self._louds.append(loud_db)
        # Perfect silence is no room: a muted microphone gives it, and one that keeps noise away by itself.
        if sounding := np.count_nonzero(power):
            self._floors.append(float(levels[-sounding + sounding // 10]))
        floor_db, *above = sorted(self._floors) or [loud_db]
        if loud_db >= AUDIBLE_DBFS:
            self.too_quiet = False
            self._speech.clear()
            # The lowest may be of the second in which the level was turned down.
            self._good_floor_db = next(iter(above), floor_db)
            return
        stands_out = loud_db >= floor_db + ABOVE_FLOOR_DB
        self._speech.append(self._frames_of_speech(frames) if stands_out else 0)
        if len(self._speech) >= LEAST_S and sum(self._speech) >= SPEECH_FRAMES and self._may_be_low(floor_db):
            self.too_quiet = True

    def _may_be_low(self, floor_db: float) -> bool:
        return self._good_floor_db is None or floor_db <= self._good_floor_db - FELL_DB

    def _frames_of_speech(self, frames: NDArray[np.int16]) -> int:
        if self._detector is None:
            self._detector = self._open_detector()
        lift = 10 ** ((LIFTED_DBFS - max(self._louds)) / 20)
        lifted = np.clip(frames * lift, -32768, 32767).astype(np.int16)
        return sum(bool(self._detector(frame.tobytes()) >= SPEECH) for frame in lifted)
