"""How large words may be so that all of them fit one sheet of paper, of either usual size."""

import math
from collections.abc import Callable, Iterable
from unicodedata import east_asian_width

WIDTH_MM, HEIGHT_MM = 210, 279
"""What both have: the width of A4 and the height of Letter."""
POINT_MM = 25.4 / 72
LINE_EM = 1.35
"""How far apart lines are, as the sheets' styles say."""
LETTER_EM = 0.55
"""How wide a letter is at most in the mean, with what is left free at the end of a line."""


def lines(words: str, width_em: float) -> int:
    """Return how many lines words take at most, where a line is so wide, measured in their own size."""
    letters = sum(2 if east_asian_width(letter) in "WF" else 1 for letter in words)
    return max(1, math.ceil(letters * LETTER_EM / max(width_em, LETTER_EM)))


def inside_em(size_pt: float, margin_mm: float) -> tuple[float, float]:
    """Return width and height of a sheet within its margins, measured in words of a size."""
    em = size_pt * POINT_MM
    return (WIDTH_MM - 2 * margin_mm) / em, (HEIGHT_MM - 2 * margin_mm) / em


def largest(sizes_pt: Iterable[float], fits: Callable[[float], bool]) -> float:
    """Return the first of the sizes, the largest first, with which all fits; 0 if none does."""
    return next((size for size in sizes_pt if fits(size)), 0.0)


def columns_taken(heights: Iterable[float], column: float) -> float:
    """Return how many columns of a height are filled by blocks that stay in their order and whole."""
    taken, left = 1.0, column
    for height in heights:
        if height > column:
            return math.inf
        if height > left:
            taken, left = taken + 1, column
        left -= height
    return taken
