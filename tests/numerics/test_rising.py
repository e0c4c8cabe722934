"""Rising factorials."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import special

from companion.numerics.rising import Rising


@given(st.lists(st.tuples(st.floats(1e-6, 1e6), st.integers(0, 40)), max_size=8))
def test_products_and_slopes_are_the_gamma_functions(pairs: list[tuple[float, int]]) -> None:
    """Each number has as many factors as it was given, whatever stands beside it; none is a product of 1."""
    x, lengths = (np.array([pair[at] for pair in pairs], dtype=(float, int)[at]) for at in (0, 1))
    logs, slopes = Rising.of(lengths).logs_and_slopes(x)
    assert logs == pytest.approx(special.gammaln(x + lengths) - special.gammaln(x), rel=1e-7, abs=1e-6)
    assert slopes == pytest.approx(special.digamma(x + lengths) - special.digamma(x), rel=1e-7, abs=1e-7)


def test_a_known_product() -> None:
    """3 times 4 times 5 is 60, and its logarithm grows by 1/3 + 1/4 + 1/5."""
    logs, slopes = Rising.of(np.array([3])).logs_and_slopes(np.array([3.0]))
    assert np.exp(logs) == pytest.approx([60])
    assert slopes == pytest.approx([47 / 60])
