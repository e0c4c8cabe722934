"""Whether a learnt voice is heard less well than it was."""

from collections.abc import Sequence
from datetime import date, timedelta

import numpy as np
import pytest

from companion.log.hearing import LessonHeard
from companion.weeks.hearing import FINDS, FIRST, heard_less_since

BEGAN = date(2026, 9, 1)


def lessons(*means: float) -> list[LessonHeard]:
    """Return a lesson a day with as many marks as make a batch, each as sure as `means` say."""
    return [LessonHeard(BEGAN + timedelta(days=at), FINDS, FINDS * mean) for at, mean in enumerate(means)]


def usual(count: int, seed: int = 0) -> Sequence[float]:
    """Return how sure the ear was in lessons as they always are."""
    return list(np.random.default_rng(seed).normal(3.5, 0.6, count))


def test_a_voice_that_sinks_is_told_with_the_day_since_when() -> None:
    """And not before it sank."""
    well = usual(20)
    assert heard_less_since(lessons(*well)) is None
    assert heard_less_since(lessons(*well, *[0.5] * 4)) == BEGAN + timedelta(days=20)


def test_a_voice_that_comes_back_is_told_no_more() -> None:
    """A cold passes, however long it was."""
    assert heard_less_since(lessons(*usual(20), *[0.5] * 30)) is not None
    assert heard_less_since(lessons(*usual(20), *[0.5] * 30, *usual(12, seed=1))) is None


def test_a_few_lessons_say_nothing() -> None:
    """What is to be expected is not known yet; with a rehearsal it is."""
    few = lessons(*[-1.0] * (FIRST - 2))
    assert heard_less_since(few) is None
    assert heard_less_since(few, rehearsed=4.2) == BEGAN
    assert heard_less_since(lessons(*[-1.0] * 20), rehearsed=4.2) == BEGAN


def test_a_class_is_louder_than_a_rehearsal() -> None:
    """So much as a class hides of any voice is nothing to tell of."""
    assert heard_less_since(lessons(*[2.0] * 30), rehearsed=4.4) is None


def test_lessons_with_few_marks_are_put_together() -> None:
    """One that holds a single mark is no lesson to judge by; the day is that of the first of them."""
    singles = [LessonHeard(BEGAN + timedelta(days=20 + at), 1, 0.5) for at in range(4 * FINDS)]
    assert heard_less_since([*lessons(*usual(20)), *singles]) == BEGAN + timedelta(days=20)
    assert heard_less_since([*lessons(*usual(20)), *singles[: FINDS - 1]]) is None


@pytest.mark.parametrize("seed", range(5))
def test_lessons_as_always_are_hardly_ever_told(seed: int) -> None:
    """None of five years' worth of draws."""
    assert heard_less_since(lessons(*usual(60, seed))) is None
