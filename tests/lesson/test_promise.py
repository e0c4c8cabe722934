"""A family contact that was planned."""

from dataclasses import replace
from datetime import date

import pytest

from companion.lesson.promise import Promise, PromiseState, due_words, kept_words, promise_words

PROMISE = Promise("n2", "K. T.", "the teacher", "phone", date(2026, 9, 18))


def test_a_promise_is_overdue_after_its_day_while_it_is_open() -> None:
    """Not on the day itself, not once it is kept, and never without a day."""
    assert PROMISE.overdue(date(2026, 9, 19))
    assert not PROMISE.overdue(date(2026, 9, 18))
    assert not replace(PROMISE, state=PromiseState.KEPT).overdue(date(2026, 9, 19))
    assert not replace(PROMISE, due=None).overdue(date(2026, 9, 19))


@pytest.mark.parametrize(
    ("due", "words", "said"),
    [
        (date(2026, 9, 18), "", "by Friday 18 September"),
        (None, "after the fair", "after the fair"),
        (date(2026, 9, 18), "after the fair", "by Friday 18 September, after the fair"),
        (None, "", ""),
    ],
)
def test_the_day_and_the_teachers_words_say_when(due: date | None, words: str, said: str) -> None:
    """Either may be missing."""
    assert due_words(due, words) == said


def test_a_promise_is_one_line() -> None:
    """Open or kept."""
    today = date(2026, 9, 14)
    assert promise_words(PROMISE, today) == "K. T.: the teacher, phone, by Friday 18 September"
    later = promise_words(PROMISE, date(2028, 9, 14))
    assert later == "K. T.: the teacher, phone, by Friday 18 September 2026", "it could be of any year"
    kept = replace(PROMISE, on=date(2026, 9, 17), line="They know.")
    assert kept_words(kept) == "K. T.: the family was contacted on Thursday 17 September: They know."
    assert kept_words(PROMISE) == "K. T.: the family was contacted."
