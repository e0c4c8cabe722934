"""The way down."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import minimize, rosen, rosen_der

from companion.numerics.descent import Point, lowest

NUMBERS = st.integers(0, 2**32 - 1)


def curved_valley(at: Point) -> tuple[float, Point]:
    """Return height and slope of Rosenbrock's valley, whose bottom is at 1, 1, 1 …."""
    return float(rosen(at)), np.asarray(rosen_der(at), float)


@given(NUMBERS, st.integers(1, 30))
def test_the_bottom_of_a_bowl_is_found(seed: int, wide: int) -> None:
    """Whatever its middle is and however unlike its axes are."""
    rng = np.random.default_rng(seed)
    middle, steepness = rng.normal(0, 10, wide), 10 ** rng.uniform(-1, 2, wide)

    def bowl(at: Point) -> tuple[float, Point]:
        away = at - middle
        return float(steepness @ away**2), 2 * steepness * away

    assert lowest(bowl, np.zeros(wide), even=0) == pytest.approx(middle, abs=1e-3)


def test_a_valley_is_followed_round_its_bend() -> None:
    """As far down as another library's search goes."""
    start = np.array([-1.2, 1.0, 0.5])
    found = lowest(curved_valley, start, even=1e-12)
    other = minimize(curved_valley, start, jac=True, method="L-BFGS-B")
    assert found == pytest.approx(np.ones(3), abs=1e-3)
    assert curved_valley(found)[0] <= other.fun + 1e-6


def test_it_stays_where_it_is_flat_and_stops_after_the_most_strides() -> None:
    """At the bottom there is nothing to do; and a search can be cut short, lower than it began."""
    assert lowest(curved_valley, np.ones(2)).tolist() == [1.0, 1.0]
    short = lowest(curved_valley, np.array([-1.2, 1.0]), most_strides=3)
    assert 1e-3 < curved_valley(short)[0] < curved_valley(np.array([-1.2, 1.0]))[0]
