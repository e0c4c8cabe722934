"""Logistic regression: the plane that best tells what was said from everything else."""

import numpy as np
from numpy.typing import NDArray

from companion.numerics.descent import lowest

_MOST_STEPS = 300
_FLAT = 1e-4
"""Where the loss is so flat, the plane moves no more …"""
_EVEN = 64 * float(np.finfo(float).eps)
"""… nor where a step takes no larger share off it."""


def logistic_regression(
    seen: NDArray[np.float32],
    said: NDArray[np.bool_],
    strictness: float,
    counts: NDArray[np.float64] | None = None,
) -> tuple[NDArray[np.float64], float]:
    """Return weights and bias: `seen @ weights + bias` are the log odds that a row was said.

    strictness: inverse strength of the L2 penalty on the weights, for a loss summed over the rows.
    counts: how much each row counts among those of its kind; by default all count the same.
    Both kinds weigh the same, however many rows there are of each. Solved by L-BFGS from nothing.
    """
    sign = np.where(said, 1.0, -1.0).astype(np.float32)
    each = np.ones(len(seen)) if counts is None else counts
    share = (each * np.where(said, 0.5 / each[said].sum(), 0.5 / each[~said].sum())).astype(np.float32)
    penalty = 1 / (strictness * len(seen))

    def loss(plane: NDArray[np.float64]) -> tuple[float, NDArray[np.float64]]:
        weights, bias = plane[:-1].astype(np.float32), np.float32(plane[-1])
        margin = sign * (seen @ weights + bias)
        pull = -share * sign * np.exp(-np.logaddexp(0, margin))
        value = float(share @ np.logaddexp(0, -margin)) + penalty / 2 * float(weights @ weights)
        return value, np.append(pull @ seen + penalty * weights, pull.sum()).astype(np.float64)

    start = np.zeros(seen.shape[1] + 1)
    found = lowest(loss, start, flat=_FLAT, even=_EVEN, most_strides=_MOST_STEPS)
    return found[:-1], float(found[-1])
