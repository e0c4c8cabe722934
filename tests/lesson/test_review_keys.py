"""The keys of the review."""

from companion.lesson.review_keys import HINTS, ReviewKey


def test_each_key_means_one_thing() -> None:
    """One letter each, none twice."""
    letters = [key.value for key in ReviewKey]
    assert len(set(letters)) == len(letters)
    assert all(len(letter) == 1 for letter in letters)


def test_the_hints_tell_every_key_that_page_and_terminal_share() -> None:
    """Playing is the page's own, stopping the terminal's."""
    assert set(ReviewKey) - set(HINTS) == {ReviewKey.PLAY, ReviewKey.STOP}
