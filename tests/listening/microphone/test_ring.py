"""The ring between PortAudio's thread and ours."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from companion.listening.microphone.ring import Ring


@given(st.lists(st.tuples(st.integers(0, 12), st.booleans()), max_size=60))
def test_whatever_is_accepted_comes_out_once_and_in_order(steps: list[tuple[int, bool]]) -> None:
    """Any order of writes and reads gives back exactly the accepted samples; the others are counted."""
    ring, count, accepted, came = Ring(16, 2), 0, [], []
    dropped = 0
    for length, read_after in steps:
        frames = np.arange(count, count + 2 * length, dtype=np.int16).reshape(length, 2)
        count += 2 * length
        if ring.write(frames):
            accepted += frames.ravel().tolist()
        else:
            dropped += length
        if read_after:
            came += ring.read().ravel().tolist()
    came += ring.read().ravel().tolist()
    assert came == accepted
    assert ring.dropped == dropped


def test_a_full_ring_drops_the_newest_and_keeps_the_rest() -> None:
    """What finds no room is counted, and what waits stays unbroken."""
    ring = Ring(4, 1)
    assert ring.write(np.full((3, 1), 7, np.int16))
    assert not ring.write(np.full((2, 1), 8, np.int16))
    assert ring.dropped == 2
    assert ring.read().ravel().tolist() == [7, 7, 7]
