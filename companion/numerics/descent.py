"""The lowest point of a smooth surface."""

from collections import deque
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Point = NDArray[np.float64]
Surface = Callable[[Point], tuple[float, Point]]
"""Height and slope (the gradient) at a point."""

_REMEMBERED = 10
_DOWN, _LEVELLED = 1e-4, 0.9
"""A stride goes down by this share at least of what the slope promised, and leaves so much of it."""
_MOST_TRIES = 40


def lowest(
    surface: Surface, start: Point, *, flat: float = 1e-5, even: float = 2e-9, most_strides: int = 15_000
) -> Point:
    """Return the point that strides downhill from `start` come to: a lowest one, if the surface has one pit.

    They end where no part of the slope is above `flat`, where a stride takes no larger share than `even` off
    the height, or after `most_strides`. Directions are those of L-BFGS (Nocedal and Wright, Numerical
    Optimization, algorithm 7.4), lengths are found by halving and doubling (Lewis and Overton, Nonsmooth
    optimization via quasi-Newton methods, 2013).
    """
    at, (height, slope) = start, surface(start)
    strides: deque[tuple[Point, Point]] = deque(maxlen=_REMEMBERED)
    for _ in range(most_strides):
        if np.abs(slope).max() <= flat:
            break
        way = -_bent(slope, strides)
        if not strides:
            way *= min(1.0, 1 / float(np.abs(slope).sum()))
        to, (new_height, new_slope) = _stride(surface, at, way, height, float(slope @ way))
        if new_height >= height:
            break
        strides.append((to - at, new_slope - slope))
        fell = height - new_height
        at, height, slope = to, new_height, new_slope
        if fell <= even * max(abs(height + fell), abs(height), 1.0):
            break
    return at


def _bent(slope: Point, strides: deque[tuple[Point, Point]]) -> Point:
    """Return the slope as it is after what the last strides told of how the surface bends."""
    bent, parts = slope.copy(), []
    for stride, turn in reversed(strides):
        part = (stride @ bent) / (stride @ turn)
        bent -= part * turn
        parts.append(part)
    if strides:
        stride, turn = strides[-1]
        bent *= (stride @ turn) / (turn @ turn)
    for (stride, turn), part in zip(strides, reversed(parts), strict=True):
        bent += (part - (turn @ bent) / (stride @ turn)) * stride
    return bent


def _stride(
    surface: Surface, at: Point, way: Point, height: float, downhill: float
) -> tuple[Point, tuple[float, Point]]:
    """Return where a stride along `way` ends that is neither too long nor too short, and what is there."""
    length, short, long = 1.0, 0.0, np.inf
    for _ in range(_MOST_TRIES):
        to = at + length * way
        there = surface(to)
        if there[0] > height + _DOWN * length * downhill:
            long = length
        elif there[1] @ way < _LEVELLED * downhill:
            short = length
        else:
            break
        length = (short + long) / 2 if np.isfinite(long) else 2 * short
    return to, there
