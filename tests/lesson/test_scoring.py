"""Marks against the truth."""

from companion.lesson import event as ev
from companion.lesson.mark import Kind, Source
from companion.lesson.scoring import TOLERANCE_MS, Spoken, score
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


def test_the_nearest_mark_within_the_tolerance_is_the_spoken_one() -> None:
    """Whichever way; a key is not heard, and one mark serves one phrase."""
    marks = told(began("arrival", 0), praise(900), praise(1_200), praise(2_000)).marks
    assert [mark.at_ms for mark in score(marks, [_spoken(1_000, "praise")]).found] == [900]
    assert [mark.at_ms for mark in score(marks, [_spoken(1_100, "praise")] * 3).found] == [1_200, 900, 2_000]
    for late_ms, found in {TOLERANCE_MS: 1, TOLERANCE_MS + 1: 0, -TOLERANCE_MS: 1}.items():
        marks = told(began("arrival", 0), praise(5_000 + late_ms)).marks
        assert len(score(marks, [_spoken(5_000, "praise")]).found) == found
    pressed = told(began("arrival", 0), ev.MarkMade(Kind.PRAISE, 1_000, Source.KEY)).marks
    assert score(pressed, []).false == ()


def test_a_truth_file_tells_seconds() -> None:
    """Rounded to the millisecond."""
    entry = {"begin_s": 1.2, "end_s": 2.0004, "phrase": "line up", "kind": "phase", "phase": "arrival"}
    assert Spoken.of(entry) == Spoken(1_200, 2_000, "line up", "phase", "arrival")
