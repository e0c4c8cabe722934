"""Laying chains of phonemes over what the network heard."""

from collections.abc import Iterator

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.listening.detection.takes import plain_windows
from companion.listening.phonemes.acoustic_model import BLANK, FLOOR, PHONEMES, Frames, hear
from companion.listening.phonemes.search import Chain, align, fit, search, spell
from tests.listening.speakers import say

CAT: Chain = ("K", "AE", "T")


def frames_of(*classes: str) -> Frames:
    """Return frames in which exactly these phonemes ("-" for none) are heard."""
    costs = np.full((1, len(classes), BLANK + 1), -20.0, np.float32)
    for frame, name in enumerate(classes):
        costs[0, frame, BLANK if name == "-" else PHONEMES.index(name)] = 0
    return costs


def test_a_chain_that_was_heard_fits_perfectly_where_it_was_heard() -> None:
    """Blanks and repeats between the phonemes cost nothing, and begin and end are the chain's own."""
    found = fit(frames_of("-", "S", "-", "K", "K", "-", "AE", "T", "-", "-"), [CAT])
    assert (found.score[0, 0], found.begin[0, 0], found.end[0, 0]) == (0, 3, 7)


def test_a_missing_phoneme_costs_no_more_than_the_floor() -> None:
    """One phoneme that was not heard costs one frame's floor, and the rest still fits."""
    found = fit(frames_of("-", "K", "-", "T", "-"), [CAT])
    assert found.score[0, 0] == pytest.approx(FLOOR)


def test_the_same_phoneme_twice_needs_a_gap_between() -> None:
    """A doubled phoneme is not found in one long one."""
    doubled = [("T", "T")]
    assert fit(frames_of("-", "T", "-", "T"), doubled).score[0, 0] == 0
    assert fit(frames_of("-", "T", "T", "T"), doubled).score[0, 0] < 0


def test_chains_of_different_lengths_do_not_disturb_each_other() -> None:
    """A chain scores the same alone and beside a longer one."""
    costs = frames_of("K", "-", "AE", "T", "S", "-")
    alone = fit(costs, [CAT])
    beside = fit(costs, [CAT, (*CAT, "S", "IH", "Z")])
    assert beside.score[0, 0] == alone.score[0, 0]


def paths(chain: Chain, length: int, state: int = 0) -> Iterator[tuple[str, ...]]:
    """Yield every way to say a chain, from one of its states on, in so many frames."""
    states = [name for phoneme in chain for name in (phoneme, "-")][:-1]
    if length == 1 and state == len(states) - 1:
        yield (states[state],)
    if length <= 1:
        return
    skips = state % 2 == 0 and state + 2 < len(states) and states[state] != states[state + 2]
    for further in (0, 1, 2) if skips else (0, 1):
        if state + further < len(states):
            for rest in paths(chain, length - 1, state + further):
                yield (states[state], *rest)


@given(
    st.lists(st.lists(st.integers(-12, 0), min_size=4, max_size=4), min_size=1, max_size=6),
    st.lists(st.sampled_from(["K", "AE", "T"]), min_size=1, max_size=3),
)
def test_the_search_finds_the_best_of_all_paths(heard: list[list[int]], phonemes: list[str]) -> None:
    """At each end the score is that of the best path of all, tried one by one, and of the earliest such."""
    names, chain = ("K", "AE", "T", "-"), tuple(phonemes)
    costs = np.full((1, len(heard), BLANK + 1), -20.0, np.float32)
    for at, name in enumerate(names):
        costs[0, :, BLANK if name == "-" else PHONEMES.index(name)] = [frame[at] for frame in heard]
    found = search(costs, [chain])
    for end in range(len(heard)):
        tried = [
            (sum(max(FLOOR, heard[begin + at][names.index(name)]) for at, name in enumerate(path)), -begin)
            for begin in range(end + 1)
            for path in paths(chain, end + 1 - begin)
        ]
        if tried:
            assert (found.score[0, end, 0], -found.begin[0, end, 0]) == max(tried)
        else:
            assert found.score[0, end, 0] < FLOOR * len(heard)
            assert found.begin[0, end, 0] == 0


def test_an_alignment_gives_each_phoneme_its_frames() -> None:
    """The frames of each phoneme of a chain come in order and do not overlap."""
    assert align(frames_of("-", "K", "K", "-", "AE", "-", "T")[0], CAT) == [(1, 3), (4, 5), (6, 7)]


def test_the_network_spells_a_word_that_it_hears() -> None:
    """The real network hears most phonemes of a clear synthetic word."""
    heard = hear(plain_windows([say("velvet compass", "flite:rms")])).costs
    spelt = spell(heard[0])
    assert len({"V", "EH", "L", "K", "P", "S"} & set(spelt)) >= 5, spelt
