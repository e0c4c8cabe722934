"""A look at one's own practice, private: by class, hour, and how marks came about. Never a verdict."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from companion.language import _, later
from companion.lesson.chance import Share, share
from companion.lesson.mark import Source
from companion.log.weeks import GroupMarks, HourCount, PhraseHeard, SourceCount

OFTEN_CORRECTED = 3
"""A phrase put right in fewer reviews is not worth another word."""
CORRECTED_SHARE = 0.2
WAYS = {
    Source.VOICE: later("by voice"),
    Source.KEY: later("by key"),
    Source.PAGE: later("by page"),
    Source.CLOCK: later("by clock"),
    Source.REVIEW: later("by review"),
    Source.COMMAND_LINE: later("by command line"),
}
"""How marks come about, in words."""
LATE = later("late, in the review")


@dataclass(frozen=True, slots=True)
class Praised:
    """Praise among the marks of one class group or one hour, with its interval."""

    name: str
    lessons: int
    praise: Share


def by_class(counts: Iterable[GroupMarks]) -> tuple[Praised, ...]:
    """Return the share of praise by class group."""
    return tuple(_praised(count.class_group, count) for count in counts)


def by_hour(counts: Iterable[HourCount]) -> tuple[Praised, ...]:
    """Return the share of praise by the hour in which lessons begin."""
    return tuple(_praised(f"{count.hour:02}:00", count) for count in counts)


def _praised(name: str, count: GroupMarks | HourCount) -> Praised:
    return Praised(name, count.lessons, share(count.praise, count.praise + count.reminder))


def ways(counts: Iterable[SourceCount]) -> tuple[tuple[str, Share], ...]:
    """Return how marks came about, in words, each as a share of all."""
    counts = tuple(counts)
    total = sum(count.marks for count in counts)
    by_way: dict[str, int] = defaultdict(int)
    for count in counts:
        by_way[LATE if count.late else WAYS[Source(count.source)]] += count.marks
    return tuple((_(way), share(marks, total)) for way, marks in sorted(by_way.items(), key=lambda x: -x[1]))


def often_corrected(phrases: Iterable[PhraseHeard]) -> tuple[PhraseHeard, ...]:
    """Return the phrases that reviews had to put right again and again."""
    return tuple(
        phrase
        for phrase in phrases
        if phrase.corrected >= OFTEN_CORRECTED
        and phrase.corrected > CORRECTED_SHARE * (phrase.correct + phrase.corrected)
    )
