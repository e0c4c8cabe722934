"""Picks the command that follows a cue from a closed set, by its phonemes, or finds that none is clear."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from companion.listening.phonemes.acoustic_model import BLANK, FRAME_SAMPLES, PHONEMES, Frames
from companion.listening.phonemes.search import Chain, align, fit
from companion.listening.sound import Sound

Levels = NDArray[np.float64]
"""dB of the root mean square of each frame, above that of the smallest sample."""

UNEXPLAINED = 2.5
"""Nats that each phoneme between the cue and the command costs: something else was said there."""
TRAILING = 1.2
"""Nats that each phoneme right after the command costs."""
_TRAILING_FRAMES = 15
RUNS_ON_FRAMES = 10
"""What is said so soon (0.2 s) after a command goes on with it: “take it back home”. (Of sentences that begin
like a command, four synthetic voices, 72 % fired without this and 22 % with it; of commands none fewer, of
commands with other talk 0.1 to 0.4 s behind them 3 points fewer at 5 dB.)"""
_QUIET_FRAMES = 10
"""A fifth of a second: its quietest stretch of that length says how loud the room is."""
GOES_ON_FRAMES = (8, 18)
"""Where it is heard how loud it still is behind a command: from 0.16 to 0.36 s after its end."""
GOES_ON_DB = -4.0
"""A voice that is still so loud there, compared with the command, goes on with a sentence. (This, what
follows and `_WORST_MIDDLE` were chosen on the first list of `tests/listening/sentences.toml`, beneath eight
other voices: 3 and 4 % of near sentences fired clean and at 10 dB, where 13 and 18 % did.)"""
ABOVE_ROOM_DB = 4.0
"""A room is no voice: where its quietest moment is louder than that, so much above it counts."""
SILENT_FRAMES = 6
"""Whether it has fallen silent behind a command is told from the last 0.12 s that were heard."""
SILENT_DB = -15.0
SILENT_ABOVE_ROOM_DB = 3.0
"""Silence: nowhere louder than that beneath the command, or than that above the room's quietest moment.
(`enrolled_spotter` waits less behind it. Of the first list's near sentences, by two voices, clean and at
10 dB, that let none through which is refused after the longer wait.)"""
EARNED = 1.0
"""Nats that each phoneme of a command earns: in noise each is worth less than what is heard in its place, so
that without this a short command wins over the longer one that was said."""

_FIT_MIDDLE = 1.6
_MARGIN_MIDDLE = 2.0
"""Nats a phoneme of misfit, and nats of margin, at which a command is as likely meant as not (these and the
costs above were chosen on two synthetic voices, clean and in babble)."""
_WORST_MIDDLE = 10.0
"""Nats of the two worst phonemes at which a command is as likely another word as not."""


@dataclass(frozen=True, slots=True)
class CommandChoice:
    """The command that fits best after the cue. Scores are nats."""

    command: str
    begin: int
    end: int
    """Frames in what was given, first and last."""
    misfit: float
    """Nats a phoneme by which the command misses what was heard; 0 is perfect."""
    margin: float
    """How much better it fits than the next command."""
    runs_on: int = 0
    """Phonemes heard within `RUNS_ON_FRAMES` of its end."""
    goes_on_db: float = -math.inf
    """How much louder it is behind the command than where a voice counts as going on."""
    worst: float = 0.0
    """Nats by which its two worst phonemes miss what was heard in their place."""
    silent: bool = False
    """Whether the last that has been heard behind it is silence."""

    @property
    def log_odds(self) -> float:
        """Return the log odds that this command was meant."""
        fits = 3.0 * (_FIT_MIDDLE - self.misfit)
        clear = 1.5 * (self.margin - _MARGIN_MIDDLE)
        ends = 1.5 - 3.0 * self.runs_on if self.runs_on else math.inf
        falls_silent = -2.0 * self.goes_on_db
        whole = _WORST_MIDDLE - self.worst
        doubts = (fits, clear, ends, falls_silent, whole)
        return -math.log(sum(math.exp(-max(-30.0, min(odds, 30.0))) for odds in doubts))


class CommandFit:
    """A closed set of commands, each with the ways it is said."""

    def __init__(self, ways: Mapping[str, tuple[Chain, ...]]) -> None:
        self._owners = [command for command, chains in ways.items() for _ in chains]
        self._chains = [chain for chains in ways.values() for chain in chains]

    def choose(self, costs: Frames, levels_db: Levels, room_db: float) -> CommandChoice:
        """Pick the best command in frames x classes that begin where the cue ended.

        levels_db: how loud each frame is. room_db: how loud the room is where nobody speaks.
        """
        found = fit(costs[np.newaxis], self._chains)
        heard = costs.argmax(axis=-1) != BLANK
        heard[1:] &= costs.argmax(axis=-1)[1:] != costs.argmax(axis=-1)[:-1]
        before = np.concatenate(([0], np.cumsum(heard)))
        scores = []
        for row, _ in enumerate(self._chains):
            begin, end = int(found.begin[0, row]), int(found.end[0, row])
            after = before[min(len(heard), end + 1 + _TRAILING_FRAMES)] - before[end + 1]
            around = UNEXPLAINED * before[begin] + TRAILING * after
            scores.append(float(found.score[0, row]) - around + EARNED * len(self._chains[row]))
        best = int(np.argmax(scores))
        others = [
            score for score, owner in zip(scores, self._owners, strict=True) if owner != self._owners[best]
        ]
        begin, end = int(found.begin[0, best]), int(found.end[0, best])
        return CommandChoice(
            self._owners[best],
            begin,
            end,
            EARNED - scores[best] / len(self._chains[best]),
            scores[best] - max(others) if others else math.inf,
            int(heard[end + 1 : end + 1 + RUNS_ON_FRAMES].sum()),
            _goes_on_db(levels_db, room_db, begin, end),
            _worst(costs[: end + 1], self._chains[best]),
            _is_silent(levels_db, room_db, begin, end),
        )


def levels(window: Sound) -> tuple[Levels, float]:
    """Return how loud each frame of a window is (dB), and its quietest fifth of a second."""
    frames = window[: len(window) // FRAME_SAMPLES * FRAME_SAMPLES].reshape(-1, FRAME_SAMPLES)
    power = np.mean(frames.astype(np.float64) ** 2, axis=1) + 1.0
    together = np.convolve(power, np.full(_QUIET_FRAMES, 1 / _QUIET_FRAMES), "valid")
    return 10 * np.log10(power), float(10 * np.log10(together.min()))


def _goes_on_db(levels_db: Levels, room_db: float, begin: int, end: int) -> float:
    """Return how much louder it is behind the command than where a voice counts as going on."""
    first, last = GOES_ON_FRAMES
    behind = levels_db[end + first : end + last]
    if not len(behind):
        return -math.inf
    command_db = _command_db(levels_db, begin, end)
    return _mean_db(behind) - max(command_db + GOES_ON_DB, room_db + ABOVE_ROOM_DB)


def _is_silent(levels_db: Levels, room_db: float, begin: int, end: int) -> bool:
    """Return whether the last that was heard behind the command is silence."""
    behind = levels_db[max(end + 1, len(levels_db) - SILENT_FRAMES) :]
    silence_db = max(_command_db(levels_db, begin, end) + SILENT_DB, room_db + SILENT_ABOVE_ROOM_DB)
    return len(behind) > 0 and float(behind.max()) < silence_db


def _command_db(levels_db: Levels, begin: int, end: int) -> float:
    """Return how loud the louder half of a command is."""
    return _mean_db(np.sort(levels_db[begin : end + 1])[(end - begin) // 2 :])


def _mean_db(levels_db: Levels) -> float:
    return float(10 * np.log10(np.mean(10 ** (levels_db / 10))))


def _worst(costs: Frames, chain: Chain) -> float:
    """Return the nats by which the two worst phonemes of a chain, which ends in the last frame, miss."""
    missed = [
        -float(costs[begin : max(end, begin + 1), PHONEMES.index(phoneme)].sum())
        for (begin, end), phoneme in zip(align(costs, chain), chain, strict=True)
    ]
    return sum(sorted(missed)[-2:])
