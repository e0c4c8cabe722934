"""What the acoustic model hears, in quiet and in noise."""

import numpy as np
import pytest

from companion.listening.detection.learning import ways_to_say
from companion.listening.detection.takes import babble, noisy, plain_windows
from companion.listening.phonemes.acoustic_model import (
    BLANK,
    DIMENSIONS,
    FLOOR,
    PLACES,
    WINDOW_FRAMES,
    WINDOW_SAMPLES,
    hear,
    window_ending,
)
from companion.listening.phonemes.search import fit
from tests.listening.speakers import SPEAKERS, say

PHRASES = ("velvet compass", "table four reminder", "wash the carrots", "open the window")


def test_many_windows_are_heard_as_each_alone() -> None:
    """Costs lie between the floor and nothing, and a window's neighbours in the array don't matter."""
    windows = np.stack([window_ending(say(phrase, "flite:slt"), WINDOW_SAMPLES) for phrase in PHRASES])
    together = hear(np.concatenate([windows] * 5))
    assert together.costs.shape == (20, WINDOW_FRAMES, BLANK + 1)
    assert together.embeddings.shape == (20, PLACES, DIMENSIONS)
    assert together.costs.max() == 0
    assert together.costs.min() >= FLOOR
    alone = hear(windows[:1])
    # The steps in which a matrix is rounded depend on all that is multiplied at once.
    assert np.abs(alone.costs - together.costs[:1]).mean() < 0.1


def test_the_level_of_the_microphone_does_not_matter() -> None:
    """A tenth as loud sounds the same."""
    loud = plain_windows([say("velvet compass", "flite:rms")])
    quiet = hear((loud // 10).astype(np.int16))
    assert np.abs(hear(loud).embeddings - quiet.embeddings).mean() < 0.3 * np.abs(quiet.embeddings).mean()


@pytest.mark.parametrize("snr_db", [10, 5])
def test_a_phrase_is_told_from_others_beneath_talk(snr_db: int) -> None:
    """The phonemes of what was said fit better than those of three other phrases, in nearly every voice."""
    rng = np.random.default_rng(snr_db)
    chains = [ways_to_say(phrase)[0] for phrase in PHRASES]
    right = []
    for speaker in SPEAKERS:
        quiet = plain_windows([say(phrase, speaker) for phrase in PHRASES])
        loud = np.stack([noisy(window, babble(rng), snr_db) for window in quiet])
        right += list(fit(hear(loud).costs, chains).score.argmax(axis=1) == np.arange(len(PHRASES)))
    assert np.mean(right) > 0.9
