"""Picks the command that follows a cue from a closed set, by its phonemes, or finds that none is clear."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from companion.listening.phonemes.acoustic_model import BLANK, Frames
from companion.listening.phonemes.search import Chain, fit

UNEXPLAINED = 2.5
"""Nats that each phoneme between the cue and the command costs: something else was said there."""
TRAILING = 1.2
"""Nats that each phoneme right after the command costs."""
_TRAILING_FRAMES = 15
RUNS_ON_FRAMES = 10
"""What is said so soon (0.2 s) after a command goes on with it: “take it back home”. (Of sentences that begin
like a command, four synthetic voices, 72 % fired without this and 22 % with it; of commands none fewer, of
commands with other talk 0.1 to 0.4 s behind them 3 points fewer at 5 dB.)"""
EARNED = 1.0
"""Nats that each phoneme of a command earns: in noise each is worth less than what is heard in its place, so
that without this a short command wins over the longer one that was said."""

_FIT_MIDDLE = 1.6
_MARGIN_MIDDLE = 2.0
"""Nats a phoneme of misfit, and nats of margin, at which a command is as likely meant as not (these and the
costs above were chosen on two synthetic voices, clean and in babble)."""


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

    @property
    def log_odds(self) -> float:
        """Return the log odds that this command was meant."""
        fits = 3.0 * (_FIT_MIDDLE - self.misfit)
        clear = 1.5 * (self.margin - _MARGIN_MIDDLE)
        ends = 1.5 - 3.0 * self.runs_on if self.runs_on else math.inf
        return -math.log(sum(math.exp(-min(odds, 30.0)) for odds in (fits, clear, ends)))


class CommandFit:
    """A closed set of commands, each with the ways it is said."""

    def __init__(self, ways: Mapping[str, tuple[Chain, ...]]) -> None:
        self._owners = [command for command, chains in ways.items() for _ in chains]
        self._chains = [chain for chains in ways.values() for chain in chains]

    def choose(self, costs: Frames) -> CommandChoice:
        """Pick the best command in frames x classes that begin where the cue ended."""
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
        end = int(found.end[0, best])
        return CommandChoice(
            self._owners[best],
            int(found.begin[0, best]),
            end,
            EARNED - scores[best] / len(self._chains[best]),
            scores[best] - max(others) if others else math.inf,
            int(heard[end + 1 : end + 1 + RUNS_ON_FRAMES].sum()),
        )
