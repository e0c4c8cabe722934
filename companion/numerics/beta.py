"""The beta distribution, and the functions that it is made of."""

import math
import sys
from typing import Any

import numpy as np
from numpy.typing import NDArray

Numbers = NDArray[np.floating[Any]]

_SHIFT = 8
"""The series for great numbers are taken so far from the number itself."""
_HALF_LOG_2PI = math.log(2 * math.pi) / 2
_CLOSE = 1e-12
_TINY = 1e-300
_MOST_LOG = math.log(sys.float_info.max)
_MOST_TERMS = 500


def log_gamma(x: Numbers | float) -> Numbers:
    """Return the logarithm of the gamma function, for numbers above 0 and below 1e30 (DLMF 5.5.1, 5.11.1)."""
    x = np.asarray(x, float)
    far = x + _SHIFT
    square = far**-2
    series = 1 / 12 - square * (1 / 360 - square * (1 / 1260 - square * (1 / 1680 - square / 1188)))
    between = x.copy()
    for n in range(1, _SHIFT):
        between *= x + n
    return np.asarray((far - 0.5) * np.log(far) - far + _HALF_LOG_2PI + series / far - np.log(between))


def log_beta(a: Numbers | float, b: Numbers | float) -> Numbers:
    """Return the logarithm of the beta function, for numbers above 0."""
    return np.asarray(log_gamma(a) + log_gamma(b) - log_gamma(np.add(a, b)))


def beta_below(a: float, b: float, share: float) -> float:
    """Return the probability of less than `share` (0 to 1) under the beta distribution of `a` and `b`.

    The regularised incomplete beta function, by its continued fraction (DLMF 8.17.22).
    """
    if share <= 0 or share >= 1:
        return float(share >= 1)
    if share > (a + 1) / (a + b + 2):
        return 1 - beta_below(b, a, 1 - share)
    front = math.exp(_log_height(a, b, share)) / a
    # Evaluated from its beginning (Lentz's method as modified by Thompson and Barnett, 1986).
    over, under = 1.0, 1 / _not_zero(1 - (a + b) * share / (a + 1))
    value = under
    for n in range(1, _MOST_TERMS):
        for term in (
            n * (b - n) * share / ((a + 2 * n - 1) * (a + 2 * n)),
            -(a + n) * (a + b + n) * share / ((a + 2 * n) * (a + 2 * n + 1)),
        ):
            over = _not_zero(1 + term / over)
            under = 1 / _not_zero(1 + term * under)
            value *= over * under
        if abs(over * under - 1) < _CLOSE:
            break
    return front * value


def beta_density(a: float, b: float, share: float) -> float:
    """Return the density of the beta distribution of `a` and `b` at `share`, between 0 and 1.

    It has no end near 0 where `a`, and near 1 where `b` is less than 1: what no number can hold is infinite.
    """
    height = _log_height(a, b, share) - math.log(share) - math.log1p(-share)
    return math.exp(height) if height < _MOST_LOG else math.inf


def _log_height(a: float, b: float, share: float) -> float:
    """Return the logarithm of share^a (1 - share)^b, over the beta function of `a` and `b`."""
    log_of_all = math.lgamma(a) + math.lgamma(b) - math.lgamma(a + b)
    return a * math.log(share) + b * math.log1p(-share) - log_of_all


def _not_zero(x: float) -> float:
    return x if abs(x) > _TINY else _TINY
