"""Rising factorials: what is left of the gamma function where one number lies whole steps above the other."""

from dataclasses import dataclass
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from companion.numerics.beta import Numbers


@dataclass(frozen=True, slots=True, eq=False)
class Rising:
    """Products x (x + 1) … (x + n - 1) for many x, each with a number n of its own (DLMF 5.2.5)."""

    whose: NDArray[np.intp]
    """Which x each factor is of."""
    step: Numbers
    """What is added to it."""
    count: int
    """How many x there are."""

    @classmethod
    def of(cls, lengths: NDArray[np.integer[Any]]) -> Self:
        """Return the products of so many factors each."""
        whose = np.repeat(np.arange(len(lengths)), lengths)
        begins = np.cumsum(lengths) - lengths
        return cls(whose, (np.arange(len(whose)) - begins[whose]).astype(float), len(lengths))

    def logs_and_slopes(self, x: Numbers) -> tuple[Numbers, Numbers]:
        """Return the logarithm of each product, and how fast it grows with its x, which lies above 0."""
        factors = x[self.whose] + self.step
        logs, slopes = (np.bincount(self.whose, of, self.count) for of in (np.log(factors), 1 / factors))
        # Whole numbers come of counting where there is no factor.
        return logs.astype(float), slopes.astype(float)
