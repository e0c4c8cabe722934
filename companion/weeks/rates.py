"""How often a routine truly needs a reminder, where a few lessons say little and other classes say more.

A rate is one of two kinds (the two-groups model; Efron, Statistical Science 2008). Nearly all are of the
usual kind: drawn from a beta distribution whose mean follows from class group, grade, phase and routine
(effects on the logit, normal about zero) and whose concentration is common, as in beta-binomial regression.
The few of the other kind lie anywhere. Effects, concentration and share of the other kind are those of the
greatest posterior density; the rate itself is integrated over (empirical Bayes; Carlin and Louis, Bayesian
Methods for Data Analysis, chapter 5).
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import chain
from math import copysign

import numpy as np
from numpy.typing import NDArray

from companion.lesson.class_group import grade_of
from companion.numerics.beta import beta_below, beta_density, log_beta, log_gamma
from companion.numerics.descent import lowest
from companion.numerics.rising import Rising
from companion.weeks.cell import Cell

EFFECT_SD = 0.7
"""Spread of each effect on the logit: one class or routine in twenty differs fourfold in odds."""
USUAL_LOGIT, USUAL_SD = -2.2, 1.0
"""A routine needs a reminder in one lesson of ten, give or take a factor of three."""
CONCENTRATION, CONCENTRATION_SD = 6.0, 0.7
"""Rates of one kind of cell spread as after six lessons, give or take a factor of two."""
OTHER, OTHER_LOGIT, OTHER_SD = (2.0, 2.0), -3.0, 1.0
"""Rates of the other kind lie anywhere about a half; one in twenty is one, give or take a factor of three."""

_Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Rate:
    """Share of lessons of one cell that need a reminder: a mixture of two beta distributions."""

    usual: tuple[float, float]
    other: tuple[float, float] = OTHER
    other_share: float = 0.0
    """Probability that the rate is of the other kind."""

    @property
    def mean(self) -> float:
        """The share to be expected."""
        return self._mixed(lambda a, b: a / (a + b))

    def above(self, share: float) -> float:
        """Return the probability that the true share lies above `share`."""
        return 1 - self._below(share)

    def interval(self, within: float = 0.9) -> tuple[float, float]:
        """Return the middle interval that holds the true share with probability `within`."""
        tail = (1 - within) / 2
        return self._quantile(tail), self._quantile(1 - tail)

    def chance_of_at_most(self, count: int, lessons: int) -> float:
        """Return the probability of at most `count` needy lessons among the next `lessons`."""
        k = np.arange(count + 1.0)
        ways = log_gamma(lessons + 1) - log_gamma(k + 1) - log_gamma(lessons - k + 1)
        return min(
            1.0,
            self._mixed(lambda a, b: np.exp(ways + log_beta(a + k, b + lessons - k) - log_beta(a, b)).sum()),
        )

    def spread_of_next(self, lessons: int) -> float:
        """Return the variance of the number of needy lessons among the next `lessons`."""
        mean = lessons * self.mean
        square = self._mixed(
            lambda a, b: (
                lessons * a * b * (a + b + lessons) / ((a + b) ** 2 * (a + b + 1))
                + (lessons * a / (a + b)) ** 2
            )
        )
        return square - mean**2

    def _below(self, share: float) -> float:
        return self._mixed(lambda a, b: beta_below(a, b, share))

    def _quantile(self, chance: float) -> float:
        """Return the share beneath which the true one lies with this probability, to a millionth.

        Newton's method, halving what is left wherever a step would leave it.
        """
        low, high, at = 0.0, 1.0, self.mean
        while high - low > 1e-6:
            below = self._below(at)
            low, high = (at, high) if below < chance else (low, at)
            density = self._mixed(lambda a, b: beta_density(a, b, at))  # noqa: B023 - asked at once
            # A hair further than to the place itself, so that the next step closes in from the other side.
            to = at + (chance - below) / max(density, 1e-9) + copysign(4e-7, chance - below)
            at = to if low < to < high else (low + high) / 2
        return (low + high) / 2

    def _mixed(self, figure: Callable[[float, float], float]) -> float:
        return float((1 - self.other_share) * figure(*self.usual) + self.other_share * figure(*self.other))


@dataclass(frozen=True, slots=True, eq=False)
class Usual:
    """What is usual, as some cells tell it; with a cell's own lessons it gives what is known of its rate."""

    effects: Mapping[tuple[str, ...], int]
    """The place of each effect among the numbers."""
    numbers: _Floats
    """Middle on the logit, effects, logarithm of the concentration, log odds of the other kind."""

    def rates(self, cells: Sequence[Cell]) -> tuple[Rate, ...]:
        """Return what is known of the rate of each cell; an effect that was not among the cells is none."""
        design = _design(_named(cells), self.effects)
        count, missed = _counts(cells)
        a, b = _usual(design, self.numbers)
        share = _other_share(a, b, count, missed, self.numbers[-1])
        return tuple(
            Rate((float(u), float(v)), (OTHER[0] + float(k), OTHER[1] + float(m)), float(s))
            for u, v, k, m, s in zip(a + count, b + missed, count, missed, share, strict=True)
        )

    def numbers_of(self, effects: Iterable[tuple[str, ...]]) -> _Floats:
        """Return its numbers with these effects in their order; one that was not among the cells is none."""
        own = [self.numbers[1 + self.effects[name]] if name in self.effects else 0.0 for name in effects]
        return np.concatenate((self.numbers[:1], own, self.numbers[-2:]))


def rates(cells: Sequence[Cell], near: Usual | None = None) -> tuple[Rate, ...]:
    """Return what is known of the rate of each cell, from itself and from its like. near: as for `usual`."""
    return usual(tuple(cells), near).rates(cells)


@lru_cache(maxsize=64)
def usual(cells: tuple[Cell, ...], near: Usual | None = None) -> Usual:
    """Return what is usual among the cells; fitted once for what a page asks for again and again.

    near: what is usual among nearly the same cells. The search begins there, and takes half as long.
    """
    named = _named(cells)
    effects = {name: at for at, name in enumerate(dict.fromkeys(chain.from_iterable(named)))}
    count, missed = _counts(cells)
    start = _middle(len(effects)) if near is None else near.numbers_of(effects)
    return Usual(effects, lowest(_surprise(_design(named, effects), count, missed), start))


def _middle(effects: int) -> _Floats:
    """Return the numbers of which nothing is known yet: each in the middle of what it may be."""
    return np.concatenate(([USUAL_LOGIT], np.zeros(effects), [np.log(CONCENTRATION), OTHER_LOGIT]))


def _counts(cells: Sequence[Cell]) -> tuple[_Floats, _Floats]:
    """Return for each cell how many lessons needed a reminder, and how many did not."""
    count = np.array([cell.count for cell in cells], dtype=float)
    return count, np.array([cell.lessons for cell in cells], dtype=float) - count


_Effects = tuple[tuple[str, ...], ...]


def _named(cells: Sequence[Cell]) -> list[_Effects]:
    """Return for each cell the names of the effects on its rate."""
    return [
        (
            ("class group", cell.class_group),
            ("grade", grade_of(cell.class_group)),
            ("phase", cell.phase),
            ("routine", cell.phase, cell.routine),
        )
        for cell in cells
    ]


def _design(named: Sequence[_Effects], effects: Mapping[tuple[str, ...], int]) -> _Floats:
    """Return a row a cell and a column an effect, 1 where the effect is in the cell."""
    design = np.zeros((len(named), len(effects)))
    places = [(row, effects[name]) for row, names in enumerate(named) for name in names if name in effects]
    rows, columns = np.array(places, dtype=int).reshape(-1, 2).T
    design[rows, columns] = 1
    return design


def _usual(design: _Floats, at: _Floats) -> tuple[_Floats, _Floats]:
    """Return both parameters of the usual kind's beta distribution for each cell."""
    mean = np.clip(_share(at[0] + design @ at[1:-2]), 1e-6, 1 - 1e-6)
    return mean * np.exp(at[-2]), (1 - mean) * np.exp(at[-2])


def _share(log_odds: _Floats | float) -> _Floats:
    return np.asarray(np.exp(-np.logaddexp(0, np.negative(log_odds))))


def _log_likelihood(a: _Floats | float, b: _Floats | float, count: _Floats, missed: _Floats) -> _Floats:
    return log_beta(count + a, missed + b) - log_beta(a, b)


def _other_share(a: _Floats, b: _Floats, count: _Floats, missed: _Floats, log_odds: float) -> _Floats:
    """Return the probability that each cell is of the other kind; `log_odds`: before it was looked at."""
    more = _log_likelihood(*OTHER, count, missed) - _log_likelihood(a, b, count, missed)
    return _share(log_odds + more)


def _surprise(design: _Floats, count: _Floats, missed: _Floats) -> Callable[[_Floats], tuple[float, _Floats]]:
    """Return the negative log posterior density, with its gradient, as a function of the effects."""
    spread = np.concatenate(([USUAL_SD], np.full(design.shape[1], EFFECT_SD), [CONCENTRATION_SD, OTHER_SD]))
    middle = _middle(design.shape[1])
    by_other = _log_likelihood(*OTHER, count, missed)
    lengths, of_length = np.unique(count + missed, return_inverse=True)
    # All at once, since each call costs more than its numbers; what both make together is alike in many.
    rising = Rising.of(np.concatenate((count, missed, lengths)).astype(int))
    ends = len(count), 2 * len(count)

    def surprise(at: _Floats) -> tuple[float, _Floats]:
        a, b = _usual(design, at)
        other = _share(at[-1])
        together = np.full(len(lengths), np.exp(at[-2]))
        found = rising.logs_and_slopes(np.concatenate((a, b, together)))
        logs, slopes = (np.split(numbers, ends) for numbers in found)
        by_usual = logs[0] + logs[1] - logs[2][of_length]
        log_likelihood = np.logaddexp(np.log1p(-other) + by_usual, np.log(other) + by_other).sum()
        away = (at - middle) / spread
        share = _share(at[-1] + by_other - by_usual)
        by_a = (1 - share) * (slopes[0] - slopes[2][of_length])
        by_b = (1 - share) * (slopes[1] - slopes[2][of_length])
        by_logit = (by_a - by_b) * a * b / (a + b)
        slope = np.concatenate(
            ([by_logit.sum()], design.T @ by_logit, [np.sum(by_a * a + by_b * b), np.sum(share - other)])
        )
        return float(np.sum(away**2) / 2 - log_likelihood), away / spread - slope

    return surprise
