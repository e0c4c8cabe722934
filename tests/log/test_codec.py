"""Events to rows, and back."""

import pytest

from companion.errors import CompanionError
from companion.lesson import event as ev
from companion.log.codec import event_of, row_of
from companion.log.schema import EVENT_VERSION
from tests.lesson.builders import events, praise


def row() -> dict[str, object]:
    """Return the row of a praise."""
    return row_of(events(praise(1_000))[1])


@pytest.mark.parametrize("changed", [{"version": EVENT_VERSION + 1}, {"kind": "sung"}])
def test_what_a_newer_program_wrote_is_told_and_not_guessed(changed: dict[str, object]) -> None:
    """Whether by its version or by its kind."""
    with pytest.raises(CompanionError, match="this version does not know"):
        event_of(row() | changed)


@pytest.mark.parametrize(
    "changed", [{"body": "{"}, {"body": "{}"}, {"at": "now"}, {"at": "2026-09-14T09:10:00"}]
)
def test_a_damaged_row_is_told_with_its_number_and_session(changed: dict[str, object]) -> None:
    """A moment without a zone is no moment."""
    with pytest.raises(CompanionError, match="Event 2 of session s"):
        event_of(row() | changed)


def test_words_stand_in_a_row_as_they_are() -> None:
    """Whoever looks for a word's bytes, to prove that it is gone, finds them."""
    (written,) = [row_of(event) for event in events(ev.TeacherViewed("은행나무 wächst"))[1:]]
    assert "은행나무 wächst" in str(written["body"])


def test_what_stands_for_nothing_special_is_not_written() -> None:
    """Fields with their usual value are left out, so that a row is short."""
    assert "scope" not in str(row()["body"])
    assert "confidence" in str(row()["body"])
