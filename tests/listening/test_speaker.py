"""Whose voice it is, on synthetic speakers, shifted voices and noise."""

import numpy as np
import pytest
import soxr

from companion.listening.candidate import SAMPLE_RATE, Sound
from companion.listening.enrolment import babble, noisy, speech_in
from companion.listening.speaker import (
    Speaker,
    heard_speaker,
    is_another,
    likeness,
    one_speaker,
    take_speaker,
)
from tests.listening.speakers import SPEAKERS, say

CUE = "velvet compass"
TEACHER = "flite:rms"


def speech(speaker: str, pace: float = 1.0) -> Sound:
    """Return the cue without what is before and after it."""
    said = say(CUE, speaker, pace)
    begin, end = speech_in(said)
    return said[begin:end]


def higher(sound: Sound, times: float) -> Sound:
    """Return a voice whose pitch and formants are higher, as a child's are."""
    shorter = soxr.resample(sound.astype(np.float64), SAMPLE_RATE, SAMPLE_RATE / times)
    whole: Sound = np.clip(np.rint(shorter), -32768, 32767).astype(np.int16)
    return whole


@pytest.fixture(scope="module")
def teacher() -> Speaker:
    """Return the voice of five takes."""
    voice = one_speaker([take_speaker(say(CUE, TEACHER, pace)) for pace in (0.9, 0.95, 1.0, 1.05, 1.1)])
    assert voice is not None
    return voice


@pytest.mark.parametrize("pace", [0.92, 1.12])
@pytest.mark.parametrize("snr_db", [None, 10])
def test_the_own_voice_is_known_in_silence_and_beneath_talk(
    teacher: Speaker, pace: float, snr_db: float | None
) -> None:
    """A take that was not enrolled is the teacher's."""
    said = speech(TEACHER, pace)
    if snr_db is not None:
        said = noisy(said, babble(np.random.default_rng(3), len(said)), snr_db)
    assert not is_another(teacher, heard_speaker(said))


@pytest.mark.parametrize("speaker", [speaker for speaker in SPEAKERS if speaker != TEACHER])
def test_other_voices_are_others(teacher: Speaker, speaker: str) -> None:
    """A colleague says the same phrase."""
    assert is_another(teacher, heard_speaker(speech(speaker)))


@pytest.mark.parametrize("times", [1.4, 1.6, 2.0])
def test_the_same_voice_as_a_childs_is_another(teacher: Speaker, times: float) -> None:
    """Higher pitch and higher formants make it a child's."""
    assert is_another(teacher, heard_speaker(higher(speech(TEACHER), times)))


def test_the_pitch_of_a_tone_is_its_frequency() -> None:
    """A buzz of 120 Hz has that pitch, hiss has none."""
    times = np.arange(SAMPLE_RATE) / SAMPLE_RATE
    buzz = sum(3000 / k * np.sin(2 * np.pi * 120 * k * times) for k in range(1, 9))
    assert heard_speaker(np.asarray(buzz).astype(np.int16)).pitch_hz == pytest.approx(120, rel=0.02)
    hiss = np.random.default_rng(1).normal(0, 3000, SAMPLE_RATE).astype(np.int16)
    assert heard_speaker(hiss).pitch_hz == 0


def test_pitch_counts_only_where_it_differs_much_and_is_known() -> None:
    """A raised voice stays the same voice."""
    direction = np.eye(256, dtype=np.float32)[0]

    def at(pitch_hz: float) -> Speaker:
        return Speaker(direction, pitch_hz, 1.0)

    assert likeness(at(200), at(215)) == 1
    assert likeness(at(200), at(0)) == 1
    assert likeness(at(200), at(300)) == likeness(at(300), at(200)) < 0.9


def test_takes_of_several_voices_are_nobodys() -> None:
    """Then nobody is refused; nor with too few takes."""
    takes = [take_speaker(say(CUE, speaker)) for speaker in SPEAKERS]
    assert one_speaker(takes) is None
    assert one_speaker(takes[:1] * 2) is None
