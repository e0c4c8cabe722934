"""Troubles of a microphone, told from the sound alone."""

import numpy as np
import pytest

from companion.language import speaking
from companion.listening.microphone.trouble import Trouble, Watch
from companion.listening.sound import SAMPLE_RATE, Sound

STEP_S = 0.03
NOTICED_WITHIN_S = 3.0


def room(seconds: float = STEP_S) -> Sound:
    """Return the quiet noise of a room."""
    noise = np.random.default_rng(4).normal(0, 30, round(seconds * SAMPLE_RATE))
    return noise.astype(np.int16)


def deliver(watch: Watch, sound: Sound, *, since_s: float, for_s: float, speed: float = 1.0) -> float | None:
    """Deliver `sound` every step, and return after how many seconds a trouble first showed, or None."""
    now_s, first_s = since_s, None
    while now_s < since_s + for_s:
        now_s += STEP_S
        watch.hear(sound, round(len(sound) * speed), now_s)
        if watch.trouble(now_s) and first_s is None:
            first_s = now_s - since_s
    return first_s


def test_a_quiet_room_is_no_trouble() -> None:
    """A minute of faint noise raises nothing."""
    assert deliver(Watch(SAMPLE_RATE, 0.0), room(), since_s=0.0, for_s=60) is None


@pytest.mark.parametrize(
    ("sound", "speed", "trouble"),
    [
        (np.zeros(480, np.int16), 1.0, Trouble.MUTED),
        (np.full(480, 32_767, np.int16), 1.0, Trouble.CLIPPING),
        (np.full(480, -32_768, np.int16), 1.0, Trouble.CLIPPING),
        (room(), 44_100 / 48_000, Trouble.RATE),
        (room(), 3.0, Trouble.RATE),
        (np.zeros(0, np.int16), 1.0, Trouble.STALLED),
    ],
)
def test_each_trouble_is_noticed_within_three_seconds_and_forgotten_after(
    sound: Sound, speed: float, trouble: Trouble
) -> None:
    """After ten good seconds a bad sound is named in time, and ten good ones later nothing is left."""
    watch = Watch(SAMPLE_RATE, 0.0)
    assert deliver(watch, room(), since_s=0.0, for_s=10) is None
    after_s = deliver(watch, sound, since_s=10.0, for_s=10, speed=speed)
    assert after_s is not None
    assert after_s <= NOTICED_WITHIN_S
    assert watch.trouble(20) is trouble
    deliver(watch, room(), since_s=20, for_s=10)
    assert watch.trouble(30) is None


def test_single_loud_moments_are_not_clipping() -> None:
    """A shout or a dropped pan once a second is a room, not a wrong level."""
    watch = Watch(SAMPLE_RATE, 0.0)
    loud = room()
    loud[:50] = 32_767
    for second in range(20):
        watch.hear(loud, len(loud), second + STEP_S)
        assert deliver(watch, room(), since_s=second + STEP_S, for_s=1 - STEP_S) is None


def test_late_calls_are_not_a_changed_rate() -> None:
    """A busy machine that delivers half a second late, and then all at once, raises nothing."""
    watch = Watch(SAMPLE_RATE, 0.0)
    now_s = 0.0
    for _ in range(30):
        now_s += 0.5
        watch.hear(room(0.5), SAMPLE_RATE // 2, now_s)
        deliver(watch, room(), since_s=now_s, for_s=1.0)
        now_s += 1.0
        assert watch.trouble(now_s) is None


def test_every_trouble_has_words_and_a_remedy() -> None:
    """A teacher is told what is the matter and what to do."""
    assert all(trouble.words and trouble.remedy for trouble in Trouble)


def test_a_trouble_is_told_in_the_language_that_is_spoken_and_kept_in_english() -> None:
    """So that the log can be read in any language afterwards."""
    with speaking("es"):
        assert Trouble.GONE.words == "el micrófono no está"
        assert [trouble for trouble in Trouble if trouble.words == trouble.reason] == []
        assert Trouble.GONE.reason == "the microphone is not there"
