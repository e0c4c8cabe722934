"""A look at one's own practice."""

from companion.lesson.chance import share
from companion.log.weeks import GroupMarks, HourCount, PhraseHeard, SourceCount
from companion.weeks.practice import Praised, by_class, by_hour, often_corrected, ways


def test_praise_is_told_by_class_and_by_hour_with_its_interval() -> None:
    """Lessons of an hour are those that begin in it."""
    assert by_class([GroupMarks("4-Hazel", 3, 9, 5), GroupMarks("4-Rowan", 1, 3, 1)]) == (
        Praised("4-Hazel", 3, share(9, 14)),
        Praised("4-Rowan", 1, share(3, 4)),
    )
    assert by_hour([HourCount(9, 2, 8, 2)]) == (Praised("09:00", 2, share(8, 10)),)


def test_marks_tell_how_they_came_about() -> None:
    """Late ones are told as such, most first."""
    counts = [
        SourceCount("voice", late=False, marks=6),
        SourceCount("key", late=False, marks=1),
        SourceCount("review", late=True, marks=3),
    ]
    assert ways(counts) == (
        ("by voice", share(6, 10)),
        ("late, in the review", share(3, 10)),
        ("by key", share(1, 10)),
    )


def test_only_a_phrase_that_is_put_right_again_and_again_asks_for_another_word() -> None:
    """Two corrections are chance, and three of many are few."""
    often = PhraseHeard("cleanup", 4, 2, 1)
    assert often_corrected([often, PhraseHeard("a", 0, 1, 1), PhraseHeard("b", 20, 2, 1)]) == (often,)
