"""Whether a learnt voice is heard less well than it was: noticed from how sure the ear was of its marks.

Page's cumulative sum (Continuous inspection schemes, Biometrika 1954): each batch of marks that comes out
lower than expected by more than an allowance adds to a sum, each that does not takes from it, and the sum
never falls beneath nothing. Where it passes a limit, the voice is heard less well, since the batch with which
the sum began to rise. What is expected is how the first batches after the rehearsal came out.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from statistics import fmean

from companion.log.hearing import LessonHeard

FINDS = 6
"""Marks that make a batch: lessons are put together until there are so many."""
FIRST = 8
"""Batches that say what is to be expected."""
LEAST_EXPECTED = 3.0
"""A class hides so much of a voice (log odds, less than in the rehearsal) without anything being wrong."""
SPREAD = 0.6
"""By how much batches of one voice differ, at least."""
ALLOWED = 1.25
"""How many spreads a batch may come out lower without adding to the sum …"""
LIMIT = 6.0
"""… and how many of them the sum may reach (both chosen on terms of four synthetic voices)."""


@dataclass(frozen=True, slots=True)
class _Batch:
    day: date
    mean: float


def heard_less_since(lessons: Sequence[LessonHeard], rehearsed: float | None = None) -> date | None:
    """Return since which day the voice is heard less well; None while it is heard as it was.

    lessons: since the voice was learnt, oldest first. rehearsed: the mean log odds of takes that were left
    out in the rehearsal; None where that is not known.
    """
    batches = list(_batches(lessons))
    floor = None if rehearsed is None else rehearsed - LEAST_EXPECTED
    reached, since, told = 0.0, None, False
    expected, spread = _expected(batches, floor)
    if expected is None:
        return None
    for batch in batches:
        reached += (expected - batch.mean) / spread - ALLOWED
        if reached <= 0:
            reached, since, told = 0.0, None, False
            continue
        since = since or batch.day
        told = told or reached >= LIMIT
        # What was long ago must not keep a voice from being heard well again.
        reached = min(reached, LIMIT)
    return since if told else None


def _expected(batches: Sequence[_Batch], floor: float | None) -> tuple[float | None, float]:
    """Return what batches are expected to be, None where that is not known yet, and how they differ."""
    first = [batch.mean for batch in batches[:FIRST]]
    if len(first) < FIRST:
        return floor, SPREAD
    mean = fmean(first)
    spread = (sum((one - mean) ** 2 for one in first) / (FIRST - 1)) ** 0.5
    return max(mean, mean if floor is None else floor), max(SPREAD, spread)


def _batches(lessons: Sequence[LessonHeard]) -> Iterator[_Batch]:
    day, finds, odds = None, 0, 0.0
    for lesson in lessons:
        day = day or lesson.day
        finds, odds = finds + lesson.finds, odds + lesson.odds
        if finds >= FINDS:
            yield _Batch(day, odds / finds)
            day, finds, odds = None, 0, 0.0
