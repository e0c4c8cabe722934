"""Places where something may have been said, and when they are decided."""

import itertools
import math

from hypothesis import given
from hypothesis import strategies as st

from companion.listening.detection.finds import APART, LINGERING, SETTLED, Find, Finds
from companion.listening.sound import SAMPLE_RATE


def find(begin_s: float, end_s: float, log_odds: float) -> Find:
    """Return a find of one phrase."""
    return Find("praise", int(begin_s * SAMPLE_RATE), int(end_s * SAMPLE_RATE), log_odds, -3.0, 1.0)


def test_what_fires_is_decided_a_moment_after_its_end() -> None:
    """Not before, since the next look may hear it better; and only once."""
    finds = Finds()
    sure = find(1.0, 2.0, 1.5)
    finds.add(sure)
    assert finds.decided(sure.end + SETTLED - 1, over=False) == []
    assert finds.decided(sure.end + SETTLED, over=False) == [sure]
    assert finds.decided(sure.end + LINGERING, over=True) == []


def test_it_is_known_when_something_will_be_decided() -> None:
    """A look at that moment decides it, and one before does not; what does not fire waits for nothing."""
    finds = Finds()
    finds.add(find(0.1, 0.4, -1.0))
    assert finds.settles == math.inf
    sure = find(1.0, 2.0, 1.5)
    finds.add(sure)
    finds.add(find(3.0, 4.0, 1.5))
    assert finds.settles == sure.end + SETTLED
    assert sure not in finds.decided(int(finds.settles) - 1, over=False)
    assert sure in finds.decided(int(finds.settles), over=False)


def test_poor_find_keeps_no_better_one_from_firing() -> None:
    """A place that was half heard at first is a mark as soon as it is heard whole."""
    finds = Finds()
    finds.add(find(1.0, 1.4, -1.0))
    assert finds.decided(int(1.9 * SAMPLE_RATE), over=False) == []
    whole = find(1.0, 1.8, 2.0)
    finds.add(whole)
    assert finds.decided(int(2.1 * SAMPLE_RATE), over=False) == [whole]


def test_what_does_not_fire_is_told_in_the_end() -> None:
    """After a while, or at once when the stretch of speech is over."""
    poor = find(1.0, 2.0, -1.0)
    for heard_until, over in ((poor.end + LINGERING, False), (poor.end, True)):
        finds = Finds()
        finds.add(poor)
        assert finds.decided(heard_until, over=over) == [poor]


def test_one_phrase_is_one_mark_however_often_it_is_looked_at() -> None:
    """What overlaps a decided phrase, or follows it at once, is the same phrase again."""
    finds = Finds()
    finds.add(find(1.0, 2.0, 1.0))
    finds.decided(int(2.5 * SAMPLE_RATE), over=False)
    finds.add(find(1.5, 2.4, 3.0))
    finds.add(find(2.0 + APART / SAMPLE_RATE / 2, 3.0, 3.0))
    assert finds.decided(int(9 * SAMPLE_RATE), over=True) == []
    again = find(2.5, 3.2, 1.0)
    finds.add(again)
    assert finds.decided(int(9 * SAMPLE_RATE), over=True) == [again]


@given(
    st.lists(
        st.tuples(st.floats(0, 20), st.floats(0.2, 2), st.floats(-3, 3)).map(
            lambda some: find(some[0], some[0] + some[1], some[2])
        )
    )
)
def test_decided_places_never_overlap(some: list[Find]) -> None:
    """Whatever is found in whatever order, no two marks or near misses share a moment."""
    finds, decided = Finds(), []
    for at, one in enumerate(some):
        finds.add(one)
        if at % 3 == 2:
            decided += [found for found in finds.decided(one.end, over=False) if found.fires]
    decided += [found for found in finds.decided(0, over=True) if found.fires]
    ordered = sorted(decided, key=lambda found: found.begin)
    assert all(before.end <= after.begin for before, after in itertools.pairwise(ordered))
