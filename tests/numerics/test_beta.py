"""The beta distribution, beside another library's."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import special, stats

from companion.numerics.beta import beta_below, beta_density, log_beta, log_gamma

PARAMETER = st.floats(1e-3, 500.0)


@given(PARAMETER, PARAMETER)
def test_its_logarithm_is_the_other_librarys(a: float, b: float) -> None:
    """To nine digits of what it is made of."""
    assert log_beta(a, b) == pytest.approx(special.betaln(a, b), rel=1e-9, abs=1e-9)


@given(st.floats(1e-6, 1e6))
def test_the_gamma_functions_logarithm_is_the_other_librarys(x: float) -> None:
    """Near 0, where it has no end, at its roots 1 and 2, and far away."""
    assert log_gamma(x) == pytest.approx(special.gammaln(x), rel=1e-12, abs=1e-11)


@given(st.floats(0.1, 100.0), st.floats(0.1, 100.0), st.floats(0.001, 0.999))
def test_the_density_is_the_other_librarys(a: float, b: float, share: float) -> None:
    """Where it is high and where it is hardly anything."""
    assert beta_density(a, b, share) == pytest.approx(stats.beta.pdf(share, a, b), rel=1e-9, abs=1e-300)


@given(PARAMETER, PARAMETER, st.floats(0, 1))
def test_what_lies_below_is_the_other_librarys(a: float, b: float, share: float) -> None:
    """For narrow and wide ones, at both ends too."""
    assert beta_below(a, b, share) == pytest.approx(special.betainc(a, b, share), abs=1e-9)


def test_arrays_are_taken_number_by_number() -> None:
    """As the fit of the rates needs it."""
    a, b = np.array([1.0, 2.0]), np.array([3.0, 4.0])
    assert log_beta(a, b).tolist() == [float(log_beta(1.0, 3.0)), float(log_beta(2.0, 4.0))]
