"""How large words may be for one sheet of paper."""

import math

from companion.pages.paper import columns_taken, inside_em, largest, lines


def test_words_take_lines_by_how_wide_they_are() -> None:
    """Letters that are twice as wide take twice the room; no words take a line, too."""
    assert [lines(words, 11) for words in ("", "a" * 20, "a" * 21, "가" * 10, "가" * 11)] == [1, 1, 2, 1, 2]
    assert lines("tools", 0) == 5


def test_a_sheet_is_smaller_in_larger_words() -> None:
    """Twice the size halves both ways, within the margins."""
    (width, height), (half_width, half_height) = inside_em(10, 15), inside_em(20, 15)
    assert (width, height) == (2 * half_width, 2 * half_height)
    assert math.isclose(width * 10 * 25.4 / 72, 180)


def test_the_largest_size_that_fits_is_taken() -> None:
    """And none if none does."""
    assert largest((20, 14, 10), lambda pt: pt <= 15) == 14
    assert largest((20, 14), lambda pt: pt < 5) == 0


def test_blocks_fill_columns_in_their_order() -> None:
    """A block that is higher than a column fits none."""
    assert columns_taken([3, 3, 3], 6) == 2
    assert columns_taken([3, 4, 3], 6) == 3
    assert columns_taken([], 6) == 1
    assert columns_taken([7], 6) == math.inf
