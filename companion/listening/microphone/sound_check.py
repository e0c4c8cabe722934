"""Whether a voice at the microphone is loud enough, and stands far enough out of the room."""

from collections import deque
from enum import StrEnum

import numpy as np

from companion.language import later
from companion.listening.microphone.gate import FRAME, level_db, speech_detector
from companion.listening.sound import Sound

KEPT_FRAMES = 190
"""Frames of speech and of the room that are looked back on (6 s of each)."""
LEAST_FRAMES = 16
"""So much speech (0.5 s) is needed for a word about it."""
LOWEST_DBFS, HIGHEST_DBFS = -45.0, -9.0
"""Where speech at the microphone should be: below it drowns, above it clips."""
LEAST_ABOVE_ROOM_DB = 10.0
"""A voice that stands out less is missed now and then (`rehearsal/take_check` refuses at 8)."""
SPEECH = 0.5
"""The detector's usual threshold."""
LIFTED_DBFS = -28.0
"""Quiet sound is given to the detector as loud as speech at a microphone that is well set."""
FULL_SCALE = 32_700


class VoiceHeard(StrEnum):
    """How a voice is heard. The value is what the teacher is told."""

    NOTHING = later("Say something, as loud as you speak in class.")
    QUIET = later("Too quiet: come nearer to the microphone, or turn its level up in the sound settings.")
    LOUD = later("Too loud: turn the microphone's level down in the sound settings, or step back.")
    NOISY = later(
        "Too noisy: the room is nearly as loud as your voice. Come nearer, or wear the microphone; where it"
        " stays so, a key is surer."
    )
    GOOD = later("Good: your voice is loud enough and stands out of the room.")


class SoundCheck:
    """Takes the sound of a microphone, and says how a voice is heard in it."""

    def __init__(self) -> None:
        self._detector = speech_detector()
        self._rest: Sound = np.zeros(0, np.int16)
        self._voice: deque[float] = deque(maxlen=KEPT_FRAMES)
        self._room: deque[float] = deque(maxlen=KEPT_FRAMES)
        self._clipped: deque[bool] = deque(maxlen=KEPT_FRAMES)

    def hear(self, sound: Sound) -> None:
        """Take the next sound, of any length."""
        self._rest = np.concatenate((self._rest, sound))
        while len(self._rest) >= FRAME:
            self._judge(self._rest[:FRAME])
            self._rest = self._rest[FRAME:]

    @property
    def hearing(self) -> VoiceHeard:
        """How the voice of the last seconds is heard."""
        if len(self._voice) < LEAST_FRAMES:
            return VoiceHeard.NOTHING
        voice_db = float(np.percentile(self._voice, 75))
        room_db = float(np.median(self._room)) if self._room else -120.0
        if voice_db > HIGHEST_DBFS or sum(self._clipped) > LEAST_FRAMES:
            return VoiceHeard.LOUD
        if voice_db < LOWEST_DBFS:
            return VoiceHeard.QUIET
        return VoiceHeard.NOISY if voice_db - room_db < LEAST_ABOVE_ROOM_DB else VoiceHeard.GOOD

    def _judge(self, frame: Sound) -> None:
        level = level_db(frame)
        loudest = max((*self._voice, *self._room, level))
        lift = 10 ** (max(0.0, LIFTED_DBFS - loudest) / 20)
        lifted = np.clip(frame * lift, -32768, 32767).astype(np.int16)
        self._clipped.append(bool(np.abs(frame.astype(np.int32)).max() >= FULL_SCALE))
        is_speech = float(self._detector(lifted.tobytes())) >= SPEECH
        (self._voice if is_speech else self._room).append(level)
