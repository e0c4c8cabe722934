"""The speech gate."""

from pathlib import Path

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.listening.microphone.files import whole
from companion.listening.microphone.gate import Speech, SpeechGate
from companion.listening.sound import Sound

PRAISE = whole(Path(__file__).parents[1] / "sounds" / "quiet_praise.flac")
"""Half a second of silence, a quiet phrase, half a second of silence."""


def passed(sound: Sound, block: int = 1_600) -> list[Speech]:
    """Return all that passes a gate when sound comes in blocks of one length."""
    gate = SpeechGate()
    found = [speech for at in range(0, len(sound), block) for speech in gate.hear(sound[at : at + block])]
    return found + list(gate.finish())


def test_silence_and_steady_noise_do_not_pass() -> None:
    """Digital silence, hiss and a humming fan open no gate."""
    rng = np.random.default_rng(2)
    seconds = np.arange(16_000 * 10) / 16_000
    fan = 900 * np.sin(2 * np.pi * 120 * seconds) + rng.normal(0, 300, len(seconds))
    for sound in (np.zeros(160_000), rng.normal(0, 20, 160_000), fan):
        assert passed(sound.astype(np.int16)) == []


def test_the_beginning_of_a_phrase_is_not_cut() -> None:
    """A quiet phrase after a long silence passes with sound from well before its first sample."""
    silence = np.zeros(80_000, np.int16)
    stretches = passed(np.concatenate((silence, PRAISE, silence)))
    assert stretches[0].first
    assert 80_000 < stretches[0].begin < 80_000 + 8_000
    assert stretches[-1].last
    end = stretches[-1].begin + len(stretches[-1].sound)
    assert end >= 80_000 + len(PRAISE) - 8_000


@settings(max_examples=10, deadline=None)
@given(st.integers(1, 9_000))
def test_pieces_follow_without_a_gap_whatever_the_blocks(block: int) -> None:
    """What passes is the sound itself, in its place, the same for every length of block."""
    sound = np.concatenate((PRAISE, np.zeros(16_000, np.int16), PRAISE))
    at = None
    for speech in passed(sound, block):
        assert speech.first or speech.begin == at
        at = speech.begin + len(speech.sound)
        assert np.array_equal(sound[speech.begin : at], speech.sound)
    assert at is not None
