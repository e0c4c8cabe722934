"""Whose voice it is, on synthetic speakers, shifted voices and noise."""

from dataclasses import replace

import numpy as np
import pytest
import soxr

from companion.listening.detection.takes import babble, noisy, speech_in
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.listening.voice.speaker import (
    CLEAR_DB,
    FEWEST_TO_JUDGE,
    HeardSpeaker,
    Speaker,
    above_room_db,
    heard_speaker,
    likeness,
    one_speaker,
    own_log_odds,
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


def resized(sound: Sound, times: float) -> Sound:
    """Return a voice whose pitch and formants are `times` as high, as a smaller or larger person's are."""
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
    assert own_log_odds(teacher, heard_speaker(said)) >= 0


@pytest.mark.parametrize("speaker", [speaker for speaker in SPEAKERS if speaker != TEACHER])
def test_other_voices_are_others(teacher: Speaker, speaker: str) -> None:
    """A colleague says the same phrase."""
    assert own_log_odds(teacher, heard_speaker(speech(speaker))) < 0


@pytest.mark.parametrize("times", [0.77, 0.83, 1.2, 1.3, 1.4, 1.6, 2.0])
def test_the_same_voice_from_another_body_is_another(teacher: Speaker, times: float) -> None:
    """Higher pitch and formants make it a child's, lower ones a larger colleague's."""
    assert own_log_odds(teacher, heard_speaker(resized(speech(TEACHER), times))) < 0


def test_a_voice_that_would_be_more_alike_from_another_body_is_less_likely() -> None:
    """One that would be less alike loses nothing by it."""
    own, other = np.eye(256, dtype=np.float32)[:2]
    heard = HeardSpeaker(0.8 * own + 0.6 * other, 0, 1.0, warped=np.stack([own, other]))
    teacher = Speaker(own, 0, 1.0)
    less_alike = replace(heard, warped=np.stack([other, other]))
    assert own_log_odds(teacher, heard) < 0 < own_log_odds(teacher, less_alike)
    much_lost = replace(heard, warped=np.stack([heard.direction - 0.1 * own, other]))
    assert own_log_odds(teacher, much_lost) == own_log_odds(teacher, less_alike)


def test_beneath_much_talk_less_is_asked_of_a_voice() -> None:
    """What another body would change by nothing is refused in a quiet room only."""
    own, other = np.eye(256, dtype=np.float32)[:2]
    heard = HeardSpeaker(
        0.62 * own + 0.78 * other, 0, 1.0, warped=np.stack([0.62 * own + 0.78 * other, other])
    )
    teacher = Speaker(own, 0, 1.0)
    assert own_log_odds(teacher, heard) < 0 < own_log_odds(teacher, heard, CLEAR_DB - 1)


def test_takes_that_are_all_alike_ask_more_of_what_is_heard() -> None:
    """Where a teacher never sounds otherwise, a voice that is a little otherwise is somebody else's."""
    own, other = np.eye(256, dtype=np.float32)[:2]
    takes = [Speaker(own, 0, 1.0) for _ in range(FEWEST_TO_JUDGE)]
    few, many = one_speaker(takes[1:]), one_speaker(takes)
    assert few is not None
    assert many is not None
    heard = HeardSpeaker(0.7 * own + 0.71 * other, 0, 1.0, warped=np.stack([other, other]))
    assert own_log_odds(many, heard) < 0 < own_log_odds(few, heard)


def test_what_is_farther_from_the_takes_is_less_likely() -> None:
    """Most where the takes are near to each other, and as much in any room."""
    own, other = np.eye(256, dtype=np.float32)[:2]
    heard = HeardSpeaker(0.75 * own + 0.66 * other, 0, 1.0, warped=np.stack([other, other]))
    teacher = Speaker(own, 0, 1.0, among=100.0)
    assert own_log_odds(teacher, heard, apart=900.0) < 0 < own_log_odds(teacher, heard, apart=120.0)
    varied = replace(teacher, among=800.0)
    assert own_log_odds(varied, heard, apart=900.0) > 0


def test_too_few_courses_are_none(teacher: Speaker) -> None:
    """A voice is compared with three takes at least; takes from lessons bring none."""
    takes = [take_speaker(say(CUE, TEACHER, pace)) for pace in (0.9, 1.0, 1.1)]
    without = [replace(take, courses=()) for take in takes[:1]]
    joined = one_speaker([*without, *takes[1:]])
    assert joined is not None
    assert (joined.courses, joined.among) == ((), 0.0)
    assert len(teacher.courses) == 5
    assert teacher.among > 0


def test_speech_is_so_much_louder_than_the_quietest_moment_around_it() -> None:
    """Twenty decibels, where the room is a tenth as high; without end where nothing is known of it."""
    speech, room = np.full(SAMPLE_RATE, 1000, np.int16), np.full(SAMPLE_RATE, 100, np.int16)
    assert above_room_db(speech, np.concatenate((room, speech))) == pytest.approx(20, abs=0.1)
    assert above_room_db(speech, np.zeros(0, np.int16)) == np.inf


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
