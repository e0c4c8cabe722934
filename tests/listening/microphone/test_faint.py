"""A level that is far too low: real speech, as it arrives then, and rooms in which nobody speaks."""

import numpy as np
import pytest

from companion.listening.microphone.faint import FaintSpeech
from companion.listening.microphone.files import whole
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.samples.sample import bundled_sample, sample_names
from sample_sessions.room import clatter, ventilation, water

BLOCK = SAMPLE_RATE // 33
TOLD_WITHIN_S = 20
PIECE_S = 40


def lowered(sound: Sound, db: float) -> Sound:
    """Return what a microphone delivers whose level is turned down."""
    return np.asarray(np.rint(sound * 10 ** (-db / 20)), np.int16)


def told_after_s(faint: FaintSpeech, sound: Sound) -> float | None:
    """Deliver `sound`, and return after how many seconds it was told to be too quiet; None: it never was."""
    for begin in range(0, len(sound), BLOCK):
        faint.hear(sound[begin : begin + BLOCK])
        if faint.too_quiet:
            return begin / SAMPLE_RATE
    return None


@pytest.fixture(scope="module", params=sample_names())
def lesson(request: pytest.FixtureRequest) -> Sound:
    """Give a minute of a lesson, as a microphone whose level is good delivers it."""
    return whole(bundled_sample(request.param).sound)[20 * SAMPLE_RATE : (20 + PIECE_S) * SAMPLE_RATE]


@pytest.mark.parametrize("db", [34, 50], ids=lambda db: f"{db} dB")
def test_speech_that_nobody_can_hear_is_told_in_time_and_not_any_more_when_it_is_mended(
    lesson: Sound, db: float
) -> None:
    """2 % of the amplitude is 34 dB less. Turned down in the midst or from the beginning."""
    faint = FaintSpeech()
    for before in (None, lesson):
        if before is not None:
            assert told_after_s(faint, before) is None
        after_s = told_after_s(faint, lowered(lesson, db))
        assert after_s is not None
        assert after_s <= TOLD_WITHIN_S
        faint.hear(lesson)
        assert not faint.too_quiet


def test_a_lesson_that_is_heard_is_never_told_to_be_too_quiet(lesson: Sound) -> None:
    """Nor one at 20 dB less, of which every phrase is heard still."""
    for db in (0, 20):
        assert told_after_s(FaintSpeech(), lowered(lesson, db)) is None


@pytest.mark.parametrize("level_dbfs", [-55, -65, -75])
def test_a_room_in_which_nobody_speaks_is_no_trouble(level_dbfs: float) -> None:
    """A minute of a quiet fan, of a tap that runs at times, and of things that are put down."""
    chance = np.random.default_rng(5)
    samples = 60 * SAMPLE_RATE
    seconds = np.arange(samples) / SAMPLE_RATE
    tap = water(samples, chance) * (np.sin(seconds) > 0.6)
    room = ventilation(samples, chance) + 2 * tap + clatter(samples, chance)
    sound = np.clip(np.rint(room * 32768 * 10 ** (level_dbfs / 20)), -32768, 32767).astype(np.int16)
    assert told_after_s(FaintSpeech(), sound) is None


def test_people_far_away_are_no_trouble_once_the_teacher_was_heard(lesson: Sound) -> None:
    """The level is good: the room's own noise has not fallen with it."""
    faint = FaintSpeech()
    assert told_after_s(faint, lesson) is None
    noise = np.random.default_rng(6).normal(0, 32768 * 10 ** (-60 / 20), len(lesson))
    assert told_after_s(faint, (lowered(lesson, 34) + noise).astype(np.int16)) is None


def test_a_microphone_that_was_muted_before_is_told_when_it_is_turned_down(lesson: Sound) -> None:
    """Perfect silence is not the room's own noise, to which that of later is compared."""
    faint = FaintSpeech()
    assert told_after_s(faint, np.zeros(4 * SAMPLE_RATE, np.int16)) is None
    assert told_after_s(faint, lesson[: 8 * SAMPLE_RATE]) is None
    after_s = told_after_s(faint, lowered(lesson, 34))
    assert after_s is not None
    assert after_s <= TOLD_WITHIN_S
