"""Whether a voice is loud enough, and stands out of the room."""

import numpy as np
import pytest

from companion.listening.microphone.sound_check import SoundCheck, VoiceHeard
from companion.listening.sound import SAMPLE_RATE, Sound
from tests.listening.speakers import say

TEXT = "good morning everyone, please find your seat, and look at the board"


def heard(gain: float, noise: float) -> VoiceHeard:
    """Return how a voice of a loudness is heard in a room with noise."""
    rng = np.random.default_rng(0)
    silence: Sound = np.zeros(2 * SAMPLE_RATE, np.int16)
    said = np.concatenate((silence, say(TEXT, "flite:rms"), silence)).astype(np.float64)
    mixed = gain * said + rng.normal(0, noise, len(said))
    check = SoundCheck()
    check.hear(np.clip(mixed, -32768, 32767).astype(np.int16))
    return check.hearing


@pytest.mark.parametrize(
    ("gain", "noise", "told"),
    [
        (0.5, 3, VoiceHeard.GOOD),
        (0.02, 1, VoiceHeard.QUIET),
        (12, 3, VoiceHeard.LOUD),
        (0.3, 900, VoiceHeard.NOISY),
        (0, 3, VoiceHeard.NOTHING),
    ],
)
def test_too_quiet_too_loud_and_too_noisy_are_told(gain: float, noise: float, told: VoiceHeard) -> None:
    """And so is a room in which nobody speaks."""
    assert heard(gain, noise) is told
