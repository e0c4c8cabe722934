"""The speech embedding, in whole windows and in a stream."""

import numpy as np

from companion.listening.embedding import STEP_SAMPLES, EmbeddingStream, embed
from companion.listening.phoneme_model import window_ending
from tests.listening.speakers import say


def test_a_stream_gives_what_the_whole_window_gives() -> None:
    """Embeddings made three at a time are those of the whole window, once it is full of sound."""
    sound = np.concatenate([say("the carrots are in the green bucket by the door", "flite:rms")] * 2)
    stream = EmbeddingStream()
    ends = range(3 * STEP_SAMPLES, len(sound), 3 * STEP_SAMPLES)
    for end in ends:
        stream.hear(window_ending(sound, end), 3)
    whole = embed(window_ending(sound, ends[-1])[np.newaxis])[0]
    assert stream.window.shape == whole.shape
    # The spectrogram is clipped 80 dB below the loudest moment of what it is given, so they differ a little.
    assert np.abs(stream.window - whole).mean() < 0.1
