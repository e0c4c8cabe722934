"""How a take's timbre goes on: near to the same voice, far from others, in rooms too."""

import numpy as np
import pytest

from companion.listening.detection.takes import babble, noisy, speech_in
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.listening.voice.course import CEPSTRA, Course, among, course_of, distance, room_in
from companion.listening.voice.mel import CHANNELS
from tests.listening.speakers import SPEAKERS, say

CUE = "velvet compass"
TEACHER = "flite:rms"
SILENCE = np.zeros(CHANNELS)


def speech(speaker: str, pace: float = 1.0) -> Sound:
    """Return the cue without what is before and after it."""
    said = say(CUE, speaker, pace)
    return said[slice(*speech_in(said))]


@pytest.fixture(scope="module")
def takes() -> list[Course]:
    """Return the courses of three takes."""
    return [course_of(speech(TEACHER, pace)) for pace in (0.9, 1.0, 1.1)]


def test_twenty_numbers_are_kept_of_each_fiftieth_of_a_second(takes: list[Course]) -> None:
    """How loud the take was is none of them."""
    seconds = len(speech(TEACHER)) / SAMPLE_RATE
    assert takes[1].shape == (pytest.approx(50 * seconds, abs=1), CEPSTRA)
    assert np.allclose(course_of(speech(TEACHER) // 2), takes[1], atol=3)


def test_a_take_is_no_distance_from_itself(takes: list[Course]) -> None:
    """And not far with a pause before it and behind it."""
    assert distance(speech(TEACHER), SILENCE, takes[1:2]) < 5
    assert distance(np.pad(speech(TEACHER), SAMPLE_RATE // 8), SILENCE, takes[1:2]) < 50


@pytest.mark.parametrize("snr_db", [None, 10])
@pytest.mark.parametrize("speaker", [speaker for speaker in SPEAKERS if speaker != TEACHER])
def test_the_own_voice_is_nearer_than_others(takes: list[Course], speaker: str, snr_db: float | None) -> None:
    """At a pace that was not rehearsed, and beneath talk."""

    def heard(said: Sound) -> float:
        sound = np.pad(said, SAMPLE_RATE)
        if snr_db is not None:
            sound = noisy(sound, babble(np.random.default_rng(3), len(sound)), snr_db)
        room = room_in((sound[:SAMPLE_RATE], sound[-SAMPLE_RATE:]))
        return distance(sound[SAMPLE_RATE:-SAMPLE_RATE], room, takes)

    assert heard(speech(TEACHER, 0.95)) < heard(speech(speaker))


def test_a_room_that_is_known_is_no_part_of_the_voice(takes: list[Course]) -> None:
    """Heard without it, the same voice is farther away."""
    sound = np.pad(speech(TEACHER, 0.95), SAMPLE_RATE)
    sound = noisy(sound, babble(np.random.default_rng(3), len(sound)), 10)
    said, room = sound[SAMPLE_RATE:-SAMPLE_RATE], room_in((sound[:SAMPLE_RATE],))
    assert distance(said, room, takes) < 0.8 * distance(said, SILENCE, takes)


def test_nothing_is_known_of_a_room_without_sound() -> None:
    """Nor of a moment of it."""
    assert not room_in(()).any()
    assert not room_in((np.zeros(0, np.int16), np.zeros(100, np.int16))).any()


def test_takes_of_one_voice_are_nearer_to_each_other_than_takes_of_many(takes: list[Course]) -> None:
    """What is heard later is measured by it."""
    assert among(takes) < 0.5 * among([course_of(speech(speaker)) for speaker in SPEAKERS])
