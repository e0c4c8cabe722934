"""Shares and rates with their intervals."""

import math
from dataclasses import dataclass

Z95 = 1.959964
"""Quantile of the normal distribution for an interval of 95 %."""


@dataclass(frozen=True, slots=True)
class Share:
    """`count` of `total`, with the interval in which the true share lies with 95 % confidence."""

    count: int
    total: int
    low: float
    high: float

    @property
    def value(self) -> float:
        """The share itself, 0 to 1; 0 of 0 is 0."""
        return self.count / self.total if self.total else 0.0


def share(count: int, total: int) -> Share:
    """Return `count` of `total` with its score interval (Wilson 1927); of 0 it is the whole of 0 to 1.

    Raises ValueError unless 0 <= count <= total.
    """
    if not 0 <= count <= total:
        msg = f"{count} of {total} is no share"
        raise ValueError(msg)
    if total == 0:
        return Share(0, 0, 0.0, 1.0)
    p, z2 = count / total, Z95**2
    middle = (p + z2 / (2 * total)) / (1 + z2 / total)
    half = Z95 / (1 + z2 / total) * math.sqrt(p * (1 - p) / total + z2 / (4 * total**2))
    return Share(count, total, max(0.0, min(p, middle - half)), min(1.0, max(p, middle + half)))


def rate_interval(count: int, hours: float) -> tuple[float, float]:
    """Return the exact 95 % interval of a Poisson rate an hour (Garwood, Biometrika 1936)."""
    low = _mean_with(count - 1, 0.975) if count else 0.0
    return low / hours, _mean_with(count, 0.025) / hours


def _mean_with(count: int, chance: float) -> float:
    """Return the mean of the Poisson distribution in which at most `count` has this chance."""
    low, high = 0.0, 2.0 * count + 20.0
    while (middle := (low + high) / 2) not in (low, high):
        if _at_most(count, middle) > chance:
            low = middle
        else:
            high = middle
    return middle


def _at_most(count: int, mean: float) -> float:
    """Return the chance of at most `count` in the Poisson distribution with this mean."""
    return sum(math.exp(k * math.log(mean) - mean - math.lgamma(k + 1)) for k in range(count + 1))
