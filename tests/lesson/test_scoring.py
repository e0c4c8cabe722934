"""Marks against the truth."""

from companion.lesson.scoring import Spoken, score
from tests.lesson.builders import began, praise, reminder, told


def _spoken(at_ms: int, kind: str, phase: str = "arrival") -> Spoken:
    return Spoken(at_ms, at_ms + 1_000, kind, kind, phase)


def test_each_spoken_mark_is_found_or_missed_and_the_rest_is_false() -> None:
    """The nearest mark of the same kind and phrase within the tolerance is the spoken one's own."""
    session = told(began("arrival", 0), praise(1_100), praise(5_000), reminder(9_000), praise(20_000))
    truth = [
        _spoken(1_000, "praise"),
        _spoken(9_400, "reminder"),
        _spoken(15_000, "praise"),
        _spoken(3, "undo"),
    ]
    result = score(session.marks, truth)
    assert [mark.at_ms for mark in result.found] == [1_100, 9_000]
    assert [spoken.begin_ms for spoken in result.missed] == [15_000]
    assert [mark.at_ms for mark in result.false] == [5_000, 20_000]


def test_a_mark_in_another_phase_than_the_truths_is_told() -> None:
    """It was found all the same."""
    result = score(told(began("arrival", 0), praise(1_000)).marks, [_spoken(1_000, "praise", "cleanup")])
    assert len(result.found) == len(result.wrong_phase) == 1
