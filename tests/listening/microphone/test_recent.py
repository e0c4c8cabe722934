"""Sound kept in memory for the review."""

import numpy as np

from companion.listening.microphone.recent import AFTER_S, BEFORE_S, KEPT_S, Recent
from companion.listening.sound import SAMPLE_RATE


def test_a_cut_is_the_candidate_with_a_little_around_it() -> None:
    """The samples of a cut are those that were heard at its time."""
    recent = Recent()
    heard = np.arange(20 * SAMPLE_RATE).astype(np.int16)
    for block in np.split(heard, 200):
        recent.hear(block)
    cut = recent.cut(15_000, 16_000)
    begin, end = round((15 - BEFORE_S) * SAMPLE_RATE), round((16 + AFTER_S) * SAMPLE_RATE)
    assert np.array_equal(cut, heard[begin:end])


def test_an_hour_leaves_no_more_than_the_last_seconds() -> None:
    """Memory does not grow with the lesson."""
    recent = Recent()
    for _ in range(3600):
        recent.hear(np.zeros(SAMPLE_RATE, np.int16))
    kept = recent.cut(0, 4_000_000)
    assert KEPT_S * SAMPLE_RATE <= len(kept) <= (KEPT_S + 1) * SAMPLE_RATE


def test_nothing_heard_gives_an_empty_cut() -> None:
    """A cut before any sound is empty."""
    assert len(Recent().cut(0, 1000)) == 0
