"""The synthesised voices, with the real synthesisers."""

import numpy as np
import pytest

from sample_sessions.voices import CAST, RATE, Wave, speak


@pytest.mark.parametrize("who", [who for who, voice in CAST.items() if voice.engine != "hibari"])
def test_every_voice_of_the_room_says_the_same_again(who: str) -> None:
    """A voice gives the same samples each time, at one level, without silence at its ends."""
    wave = speak(who, "where does this go")
    assert np.array_equal(wave, speak(who, "where does this go"))
    assert np.sqrt(np.mean(wave**2)) == pytest.approx(0.1)
    assert 0.6 < len(wave) / RATE < 2.5
    assert np.abs(wave[: RATE // 50]).max() > 0.001


def test_a_child_is_higher_than_the_adult_voice_it_is_made_of() -> None:
    """Pitch and formants move up together: the middle of the spectrum's power lies higher."""
    assert _middle_hz(speak("child f", "look at the big worm")) > 1.1 * _middle_hz(
        speak("visitor", "look at the big worm")
    )


def test_slower_speech_takes_longer() -> None:
    """A pace of one half takes about twice the time."""
    plain, slow = speak("visitor", "pass the bowl please"), speak("visitor", "pass the bowl please", slower=2)
    assert 1.6 < len(slow) / len(plain) < 2.3


def _middle_hz(wave: Wave) -> float:
    power = np.abs(np.fft.rfft(wave)) ** 2
    hertz = np.fft.rfftfreq(len(wave), 1 / RATE)
    return float(np.sum(power * hertz) / np.sum(power))
