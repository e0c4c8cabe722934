"""Routines to teach again."""

import numpy as np

from companion.bench.weeks import findings, simulate
from companion.weeks.cell import Cell
from companion.weeks.need import MOST_FALSE, needs

USUAL = [Cell(f"{n}-Oak", "cleanup", "rinse", (False,) * 8, 5, 0) for n in range(1, 9)]
NEEDY = Cell("4-Hazel", "cleanup", "rinse", (True,) * 7 + (False,), 1, 11)


def test_a_routine_that_needs_reminders_again_and_again_is_named_with_its_numbers() -> None:
    """The sentence says which, in how many lessons, how sure, and with what chance it is none."""
    (need,) = needs([*USUAL, NEEDY])
    assert need.cell is NEEDY
    assert need.sentence.startswith(
        "Teach “rinse” in cleanup again: 7 of 8 lessons had more reminders than praise for it"
        " (11 reminders, 1 praise). With what other classes and routines tell, likely "
    )
    assert "in 10 lessons need it; it is chance with" in need.sentence
    assert 0 <= need.doubt <= MOST_FALSE


def test_one_bad_lesson_names_nothing() -> None:
    """That is chance."""
    assert needs([*USUAL, Cell("4-Hazel", "cleanup", "rinse", (False,) * 7 + (True,), 3, 9)]) == ()


def test_of_few_lessons_nothing_is_named() -> None:
    """Five of five may be chance, six of six are named."""
    five, six = (Cell("4-Hazel", "cleanup", "rinse", (True,) * lessons, 0, 9) for lessons in (5, 6))
    assert needs([*USUAL, five], most_false=1.0) == ()
    assert [need.cell for need in needs([*USUAL, six])] == [six]


def test_only_what_is_shown_is_named() -> None:
    """A page of one class group is about that class group; the others still say what is usual."""
    assert needs([*USUAL, NEEDY], lambda cell: cell.class_group == "1-Oak") == ()
    assert [need.cell for need in needs([*USUAL, NEEDY], lambda cell: cell.class_group == "4-Hazel")] == [
        NEEDY
    ]


def test_the_surest_comes_first_and_doubts_add_up() -> None:
    """The mean doubt of all that is named stays under the share that may be false."""
    named = needs(simulate(np.random.default_rng(5), 12, "bad classes").cells, most_false=0.1)
    doubts = [need.doubt for need in named]
    assert len(named) > 10
    assert doubts == sorted(doubts)
    assert sum(doubts) <= 0.1 * len(doubts)


def test_on_classes_whose_truth_is_known_few_findings_are_false() -> None:
    """At most one in ten, where the rule of three bad lessons in six is wrong more often."""
    found = findings(7, terms=4, weeks=8, truth="bad classes")
    assert found["model"].findings > 30
    assert found["model"].false_share.value <= 0.1 < found["rule of thumb"].false_share.value
