"""How well a chain of phonemes fits somewhere in a window, against whatever the window really says.

Connectionist temporal classification (Graves et al., ICML 2006) read as a keyword search: the chain's best
path through a stretch of frames, scored against the likeliest path through the same frames. A fit of 0 says
that the network heard exactly this chain.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from companion.listening.phonemes.acoustic_model import BLANK, FLOOR, PHONEMES, Frames

Chain = tuple[str, ...]
"""ARPAbet symbols of one way of saying something."""

_NEVER = np.float32(-1e9)

# While chains are searched, a path is one whole number: its score in fine units, and in the digits beneath
# how early it began. So one maximum chooses the better path, and of equal ones the earlier.
_UNITS = 1 << 16
"""Units in a nat."""
_FRAMES = 1 << 15
"""More than the frames of any window."""
_FORBIDDEN = np.int64(-(1 << 50))
"""What a step that may not be taken costs."""
_UNREACHED = _FORBIDDEN + _FRAMES - 1
"""Where no path has come yet, as if it had begun in frame 0."""


@dataclass(frozen=True, slots=True)
class Fit:
    """The best fit of each chain in each window (arrays of windows x chains)."""

    score: NDArray[np.float32]
    """Nats, at most 0."""
    begin: NDArray[np.int64]
    """First frame of the chain."""
    end: NDArray[np.int64]
    """Last frame of the chain."""


@dataclass(frozen=True, slots=True)
class Search:
    """How well each chain fits when it ends in each frame (arrays of windows x frames x chains)."""

    score: NDArray[np.float32]
    """Nats, at most 0."""
    begin: NDArray[np.int16]
    """First frame of the chain."""


def search(costs: Frames, chains: Sequence[Chain]) -> Search:
    """Lay each chain over each window (costs: windows x frames x classes) so that it ends in each frame."""
    labels, last, may_skip = _states(chains)
    windows, frames, _ = costs.shape
    keys = np.rint(np.maximum(costs, FLOOR) * _UNITS).astype(np.int64) * _FRAMES
    reached = np.full((windows, labels.shape[0], labels.shape[1] + 2), _UNREACHED)
    here, one_back, two_back = reached[:, :, 2:], reached[:, :, 1:-1], reached[:, :, :-2]
    no_skip = np.where(may_skip, 0, _FORBIDDEN)
    rows = np.arange(len(chains))
    ended = np.empty((windows, frames, len(chains)), np.int64)
    for frame in range(frames):
        best = np.maximum(here, one_back)
        np.maximum(best, two_back + no_skip, out=best)
        np.maximum(best[:, :, 0], _FRAMES - 1 - frame, out=best[:, :, 0])
        np.add(best, keys[:, frame][:, labels], out=here)
        ended[:, frame] = here[:, rows, last]
    score = (ended // _FRAMES / _UNITS).astype(np.float32)
    return Search(score, (_FRAMES - 1 - ended % _FRAMES).astype(np.int16))


def fit(costs: Frames, chains: Sequence[Chain]) -> Fit:
    """Lay each chain over each window (costs: windows x frames x classes) wherever it fits best."""
    found = search(costs, chains)
    end = found.score.argmax(axis=1)
    at = np.arange(len(costs))[:, np.newaxis], end, np.arange(len(chains))
    return Fit(found.score[at], found.begin[at].astype(np.int64), end)


def align(costs: Frames, chain: Chain) -> list[tuple[int, int]]:
    """Return, for one window (frames x classes), the frames [begin, end) of each phoneme of the chain."""
    labels, _, may_skip = _states([chain])
    states = labels.shape[1]
    scores = np.full(states, _NEVER)
    came_from = np.zeros((len(costs), states), np.int64)
    history = np.zeros((len(costs), states), np.float32)
    for frame, cost in enumerate(costs):
        options = np.full((3, states), _NEVER)
        options[0] = scores
        options[1, 1:] = scores[:-1]
        options[2, 2:] = np.where(may_skip[0, 2:], scores[:-2], _NEVER)
        came_from[frame] = options.argmax(axis=0)
        scores = options.max(axis=0)
        if scores[0] < 0:
            scores[0], came_from[frame, 0] = 0, -1
        scores = scores + np.maximum(cost[labels[0]], FLOOR)
        history[frame] = scores
    frame, state = int(history[:, -1].argmax()), states - 1
    places = [[0, 0] for _ in chain]
    while frame >= 0:
        if state % 2 == 0:
            place = places[state // 2]
            place[1] = place[1] or frame + 1
            place[0] = frame
        back = int(came_from[frame, state])
        if back < 0:
            break
        state -= back
        frame -= 1
    return [(begin, end) for begin, end in places]


def spell(costs: Frames) -> Chain:
    """Return the phonemes that the network heard in one window (frames x classes)."""
    classes = costs.argmax(axis=-1)
    changes = np.flatnonzero(np.diff(classes, prepend=-1))
    return tuple(PHONEMES[classes[at]] for at in changes if classes[at] != BLANK)


def _states(
    chains: Sequence[Chain],
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.bool_]]:
    """Lay out phoneme, blank, phoneme, … for each chain, padded to one length."""
    longest = 2 * max(len(chain) for chain in chains) - 1
    labels = np.full((len(chains), longest), BLANK)
    may_skip = np.zeros((len(chains), longest), bool)
    for row, chain in enumerate(chains):
        classes = [PHONEMES.index(phoneme) for phoneme in chain]
        labels[row, : 2 * len(chain) - 1 : 2] = classes
        may_skip[row, 2 : 2 * len(chain) - 1 : 2] = [a != b for a, b in pairwise(classes)]
    return labels, np.array([2 * len(chain) - 2 for chain in chains]), may_skip
