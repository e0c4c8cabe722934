"""The plane between what was said and everything else."""

import numpy as np
import pytest

from companion.listening.detection.regression import logistic_regression


def test_the_odds_are_those_of_the_rows_it_learnt_from() -> None:
    """Three of four said rows have a feature, and one of four others: odds of 3 with it and 1/3 without."""
    seen = np.array([[1.0]] * 3 + [[0.0]] + [[1.0]] + [[0.0]] * 3, np.float32)
    said = np.arange(8) < 4
    weights, bias = logistic_regression(seen, said, strictness=1e6)
    odds = np.exp(seen @ weights + bias)
    assert odds[[0, 3]] == pytest.approx([3, 1 / 3], rel=0.01)


def test_both_kinds_weigh_the_same() -> None:
    """A hundred times as many others move nothing."""
    few = np.array([[1.0], [1.0], [0.0], [1.0], [0.0], [0.0]], np.float32)
    many = np.concatenate((few[:3], np.repeat(few[3:], 100, axis=0)))
    one = logistic_regression(few, np.arange(6) < 3, strictness=1e6)
    other = logistic_regression(many, np.arange(303) < 3, strictness=1e6)
    assert one[0] == pytest.approx(other[0], abs=0.01)
    assert one[1] == pytest.approx(other[1], abs=0.01)


def test_a_penalty_keeps_the_weights_small() -> None:
    """Rows that can be told apart at all would else have weights without end."""
    seen = np.array([[1.0], [0.0]], np.float32)
    weights, _ = logistic_regression(seen, np.array([True, False]), strictness=0.001)
    assert 0 < weights[0] < 0.01
