"""Stretches of a session: phases as they really ran, and what was not heard."""

from bisect import bisect_right, insort
from collections.abc import Sequence
from dataclasses import dataclass, replace
from operator import attrgetter

from companion.language import later
from companion.lesson.mark import Source


@dataclass(frozen=True, slots=True)
class PhaseSpan:
    """A phase as it really ran. A phase may run more than once in a session."""

    name: str
    began_ms: int
    ended_ms: int | None
    """None while it is still going on."""
    source: Source = Source.KEY
    """What moved the lesson into it."""


STOOD_STILL = later("the computer stood still")
"""The reason of a stretch in which the whole computer, or the whole program, did nothing."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of the session in which nothing was heard, and why."""

    began_ms: int
    ended_ms: int | None
    reason: str


_BEGAN = attrgetter("began_ms")


def span_at(phases: Sequence[PhaseSpan], at_ms: int) -> int | None:
    """Return the index of the last of `phases`, in order, begun by `at_ms`; None before the first."""
    begun = bisect_right(phases, at_ms, key=_BEGAN)
    return begun - 1 if begun else None


def put_in_order(phases: list[PhaseSpan], span: PhaseSpan) -> None:
    """Put a phase at its place among `phases`, which are in the order of their beginnings."""
    insort(phases, span, key=_BEGAN)


def name_at(phases: Sequence[PhaseSpan], at_ms: int) -> str:
    """Return the name of the phase in force at `at_ms`, or "" before the first."""
    index = span_at(phases, at_ms)
    return "" if index is None else phases[index].name


def begin_stretch(stretches: list[Stretch], at_ms: int, reason: str) -> None:
    """Open a stretch at the end of `stretches`, unless one is open already."""
    if stretches and stretches[-1].ended_ms is None:
        return
    stretches.append(Stretch(at_ms, None, reason))


def end_stretch(stretches: list[Stretch], at_ms: int) -> None:
    """End the stretch that is open, if there is one; it never ends before it began."""
    if stretches and stretches[-1].ended_ms is None:
        stretches[-1] = replace(stretches[-1], ended_ms=max(at_ms, stretches[-1].began_ms))


def spans_of(beginnings: Sequence[PhaseSpan], closed_ms: int | None) -> tuple[PhaseSpan, ...]:
    """Return the phases, which are in order, each ended by the next or by the close."""
    ends = [span.began_ms for span in beginnings[1:]] + [closed_ms]
    return tuple(
        replace(span, ended_ms=None if end is None else max(span.began_ms, end))
        for span, end in zip(beginnings, ends, strict=False)
    )
