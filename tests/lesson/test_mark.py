"""Marks and individual notes."""

import pytest

from companion.lesson.mark import IndividualNote, Kind, Mark, MarkState, NoteKind, Source, table_scope


def mark(confidence: float | None = None, source: Source = Source.KEY) -> Mark:
    """Return a praise."""
    return Mark(
        "m2", 0, "cleanup", Kind.PRAISE, "class", source, MarkState.KEPT, "cleanup", confidence=confidence
    )


def test_a_mark_counts_unless_it_was_dropped_or_undone() -> None:
    """Whatever else the review made of it."""
    assert {state for state in MarkState if not state.stands} == {MarkState.DROPPED, MarkState.UNDONE}


def test_what_was_not_heard_is_not_in_doubt() -> None:
    """A key has no posterior."""
    assert mark().certainty == 1.0
    assert mark(0.4).certainty == 0.4


def test_only_the_review_adds_late_marks() -> None:
    """Those of every other source were made in the lesson."""
    assert [source for source in Source if mark(source=source).late] == [Source.REVIEW]


def test_a_table_is_named_in_its_scope() -> None:
    """As pages and log write it."""
    assert table_scope("four") == "table four"


def test_older_words_for_a_kind_of_note_still_read() -> None:
    """And words that were never one don't."""
    assert NoteKind("left early") is NoteKind.WENT_HOME_SOONER
    with pytest.raises(ValueError, match="lost a boot"):
        NoteKind("lost a boot")


def test_a_note_is_complete_once_it_says_which_child() -> None:
    """Its line may stay empty."""
    note = IndividualNote("n2", 0, "cleanup", NoteKind.OTHER, Source.KEY)
    assert not note.complete
    assert IndividualNote("n2", 0, "cleanup", NoteKind.OTHER, Source.KEY, "seat 3").complete
