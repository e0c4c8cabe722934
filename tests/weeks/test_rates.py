"""Rates that borrow strength from their like."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from scipy.optimize import check_grad

from companion.weeks import rates as under_test
from companion.weeks.cell import Cell
from companion.weeks.rates import Rate, rates

FLAGS = st.lists(st.booleans(), min_size=1, max_size=12).map(tuple)
CELLS = st.lists(
    st.builds(Cell, st.sampled_from(["4-Hazel", "4-Oak", "2-Elm"]), st.sampled_from(["cleanup", "line-up"]),
              st.sampled_from(["", "rinse"]), FLAGS),
    min_size=1, max_size=10, unique_by=lambda cell: (cell.class_group, cell.phase, cell.routine),
)  # fmt: skip


def test_the_number_of_needy_lessons_to_come_has_a_known_distribution() -> None:
    """With a rate anywhere between 0 and 1, each number of 4 lessons is as likely (Bayes 1763)."""
    flat = Rate((1, 1))
    assert [flat.chance_of_at_most(k, 4) for k in range(5)] == pytest.approx([0.2, 0.4, 0.6, 0.8, 1.0])


def test_a_rate_tells_its_mean_interval_and_what_lies_above() -> None:
    """The beta distribution of 2 and 2 has its middle at a half (quantiles by its cubic)."""
    rate = Rate((2, 2))
    assert rate.mean == 0.5
    assert rate.above(0.5) == pytest.approx(0.5)
    assert rate.interval(0.9) == pytest.approx((0.13535, 0.86465), abs=1e-5)


@given(st.floats(0.05, 60), st.floats(0.05, 60), st.sampled_from([0.5, 0.9, 0.99]))
def test_an_interval_is_the_other_librarys(a: float, b: float, within: float) -> None:
    """To a millionth, also of rates that lie close to 0 or 1."""
    ends = stats.beta.ppf([(1 - within) / 2, (1 + within) / 2], a, b)
    assert Rate((a, b)).interval(within) == pytest.approx(tuple(ends), abs=2e-6)


@given(st.floats(0.05, 60), st.floats(0.05, 60), st.floats(0, 1))
def test_half_of_a_mixture_lies_below_its_middle(a: float, b: float, other: float) -> None:
    """A mixture has two hills with little between them; its quantiles are found all the same."""
    rate = Rate((a, b), (20.0, 3.0), other)
    low, high = rate.interval(0.0)
    assert rate.above(low + 2e-6) - 1e-6 <= 0.5 <= rate.above(high - 2e-6) + 1e-6


def test_a_few_bad_lessons_of_one_class_are_drawn_towards_what_is_usual() -> None:
    """Two bad lessons of two do not mean that every lesson is bad; ten of ten nearly do."""
    usual = [Cell(f"{n}-Oak", "cleanup", "rinse", (False,) * 10) for n in range(1, 9)]
    few, many = (
        Cell("4-Hazel", "cleanup", "rinse", (True,) * 2),
        Cell("4-Hazel", "cleanup", "rinse", (True,) * 10),
    )
    after_few, after_many = rates([*usual, few])[-1], rates([*usual, many])[-1]
    assert after_few.mean < 0.8 < after_many.mean
    assert after_few.above(0.3) < 0.95 < after_many.above(0.3)
    assert all(rate.mean < 0.1 for rate in rates([*usual, few])[:-1])


@given(CELLS)
@settings(max_examples=25)
def test_every_rate_is_one_whatever_was_counted(cells: list[Cell]) -> None:
    """Means lie between 0 and 1, and more needy lessons never mean a lower rate of that cell."""
    before = rates(cells)
    assert all(0 < rate.mean < 1 for rate in before)
    worse = Cell(cells[0].class_group, cells[0].phase, cells[0].routine, (True,) * cells[0].lessons)
    assert rates([worse, *cells[1:]])[0].mean >= before[0].mean - 1e-3


def test_nothing_counted_gives_no_rate() -> None:
    """A log without lessons has no rates."""
    assert rates([]) == ()


def test_the_slope_of_the_fit_is_the_slope_of_its_density() -> None:
    """A wrong slope would end the search at a wrong place."""
    rng = np.random.default_rng(3)
    cells = [Cell(f"{n % 3}-Oak", f"p{n % 2}", f"r{n}", tuple(rng.random(6) < 0.3)) for n in range(8)]
    effects = under_test.usual(tuple(cells)).effects
    design = under_test._design(under_test._named(cells), effects)
    count = np.array([cell.count for cell in cells], dtype=float)
    surprise = under_test._surprise(design, count, 6.0 - count)
    at = rng.normal(0, 0.3, design.shape[1] + 3)
    assert check_grad(lambda x: surprise(x)[0], lambda x: surprise(x)[1], at) < 1e-4


@given(CELLS, st.integers(0, 9))
@settings(max_examples=25)
def test_rates_are_the_same_wherever_the_search_for_them_begins(cells: list[Cell], without: int) -> None:
    """What is usual among nearly the same cells, some effects not among them, leads to the same place."""
    near = under_test.usual(tuple(cells[:without]))
    far, close = rates(cells), rates(cells, near)
    assert [rate.mean for rate in close] == pytest.approx([rate.mean for rate in far], abs=2e-3)
