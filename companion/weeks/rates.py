"""How often a routine truly needs a reminder, where a few lessons say little and other classes say more.

Beta-binomial regression: the rate of a cell is drawn from a beta distribution whose mean follows from class
group, grade, phase and routine (effects on the logit, normal about zero), and whose concentration is common.
Effects and concentration are those of the greatest posterior density; the rate itself is integrated over
(empirical Bayes; Carlin and Louis, Bayesian Methods for Data Analysis, chapter 5).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.special import betainc, betaincinv, betaln, digamma, expit, gammaln

from companion.weeks.cell import Cell, grade_of

EFFECT_SD = 0.7
"""Spread of each effect on the logit: one class or routine in twenty differs fourfold in odds."""
USUAL_LOGIT, USUAL_SD = -2.2, 1.0
"""A routine needs a reminder in one lesson of ten, give or take a factor of three."""
CONCENTRATION, CONCENTRATION_SD = 6.0, 0.7
"""Rates of one kind of cell spread as after six lessons, give or take a factor of two."""

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Rate:
    """Share of lessons of one cell that need a reminder: a beta distribution."""

    a: float
    b: float

    @property
    def mean(self) -> float:
        """The share to be expected."""
        return self.a / (self.a + self.b)

    def above(self, share: float) -> float:
        """Return the probability that the true share lies above `share`."""
        return float(1 - betainc(self.a, self.b, share))

    def interval(self, within: float = 0.9) -> tuple[float, float]:
        """Return the middle interval that holds the true share with probability `within`."""
        tail = (1 - within) / 2
        return float(betaincinv(self.a, self.b, tail)), float(betaincinv(self.a, self.b, 1 - tail))

    def chance_of_at_most(self, count: int, lessons: int) -> float:
        """Return the probability of at most `count` needy lessons among the next `lessons`."""
        k = np.arange(count + 1)
        ways = gammaln(lessons + 1) - gammaln(k + 1) - gammaln(lessons - k + 1)
        each = ways + betaln(self.a + k, self.b + lessons - k) - betaln(self.a, self.b)
        return float(min(1.0, np.exp(each).sum()))


def rates(cells: Sequence[Cell]) -> tuple[Rate, ...]:
    """Return what is known of the rate of each cell, from itself and from its like."""
    if not cells:
        return ()
    count = np.array([cell.count for cell in cells], dtype=float)
    lessons = np.array([cell.lessons for cell in cells], dtype=float)
    design = _design(cells)
    start = np.zeros(design.shape[1] + 2)
    start[0], start[-1] = USUAL_LOGIT, np.log(CONCENTRATION)
    fitted = minimize(_surprise(design, count, lessons), start, jac=True, method="L-BFGS-B").x
    a, b = _prior(design, fitted)
    return tuple(Rate(float(x), float(y)) for x, y in zip(a + count, b + lessons - count, strict=True))


def _design(cells: Sequence[Cell]) -> Floats:
    """Return a row a cell and a column an effect, 1 where the effect is in the cell."""
    named = [
        (
            ("class group", cell.class_group),
            ("grade", grade_of(cell.class_group)),
            ("phase", cell.phase),
            ("routine", cell.phase, cell.routine),
        )
        for cell in cells
    ]
    columns = {name: at for at, name in enumerate(dict.fromkeys(name for row in named for name in row))}
    design = np.zeros((len(cells), len(columns)))
    for row, names in enumerate(named):
        design[row, [columns[name] for name in names]] = 1
    return design


def _prior(design: Floats, at: Floats) -> tuple[Floats, Floats]:
    mean = expit(at[0] + design @ at[1:-1])
    mean = np.clip(mean, 1e-6, 1 - 1e-6)
    return mean * np.exp(at[-1]), (1 - mean) * np.exp(at[-1])


def _surprise(design: Floats, count: Floats, lessons: Floats) -> Callable[[Floats], tuple[float, Floats]]:
    """Return the negative log posterior density, with its gradient, as a function of the effects."""

    def surprise(at: Floats) -> tuple[float, Floats]:
        a, b = _prior(design, at)
        log_likelihood = np.sum(betaln(count + a, lessons - count + b) - betaln(a, b))
        away = np.concatenate(
            (
                [(at[0] - USUAL_LOGIT) / USUAL_SD],
                at[1:-1] / EFFECT_SD,
                [(at[-1] - np.log(CONCENTRATION)) / CONCENTRATION_SD],
            )
        )
        spread = np.concatenate(([USUAL_SD], np.full(len(at) - 2, EFFECT_SD), [CONCENTRATION_SD]))
        both = digamma(a + b) - digamma(lessons + a + b)
        by_a = digamma(count + a) - digamma(a) + both
        by_b = digamma(lessons - count + b) - digamma(b) + both
        by_logit = (by_a - by_b) * a * b / (a + b)
        slope = np.concatenate(([by_logit.sum()], design.T @ by_logit, [np.sum(by_a * a + by_b * b)]))
        return float(np.sum(away**2) / 2 - log_likelihood), away / spread - slope

    return surprise
