"""Gives a parser what hypothesis makes up, and watches what it does with it."""

import gc
import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import psutil
from hypothesis import HealthCheck, Phase, given, settings

from companion.errors import CompanionError
from tests.fuzz.parsers import PARSERS, Parser

ROUND = 2_000
"""Hypothesis keeps all that it has made up: some 6 MB for a thousand small cases. Costly ones are fewer."""
GROWTH_MB = 64
MORE_DESCRIPTORS = 8


@dataclass(frozen=True, slots=True)
class Told:
    """What came of one parser."""

    name: str
    cases: int
    refused: int
    grown_mb: float

    def __str__(self) -> str:
        return (
            f"{self.name:20} {self.cases:8} cases, {self.refused:8} refused, memory {self.grown_mb:+.1f} MB"
        )


def feed(name: str, cases: int, folder: Path) -> Told:
    """Give the parser `name` that many cases; raise what is no CompanionError, with the case that did it.

    Raises AssertionError if memory or open files grow with the cases.
    """
    parser, process = PARSERS[name], psutil.Process()
    count = refused = 0
    wanted = max(10, cases // parser.costs)
    most = ROUND // parser.costs

    with parser.make(folder) as take:

        def one(case: object) -> None:
            nonlocal count, refused
            count += 1
            try:
                take(case)
            except CompanionError:
                refused += 1

        # What a parser needs once, it has after the first round.
        _round(parser, one, min(wanted // 2, most))
        before_mb, before_files = _memory_mb(process), _open_files(process)
        while count < wanted:
            _round(parser, one, min(wanted - count, most))
        grown_mb = _memory_mb(process) - before_mb
        assert grown_mb < GROWTH_MB, f"{name} grew by {grown_mb:.0f} MB in {count} cases"
        assert _open_files(process) <= before_files + MORE_DESCRIPTORS
    return Told(name, count, refused, grown_mb)


def _round(parser: Parser, one: Callable[[object], None], cases: int) -> None:
    """Let hypothesis make up so many cases; what it remembers of them goes with the round."""

    @settings(
        max_examples=cases,
        deadline=None,
        database=None,
        suppress_health_check=list(HealthCheck),
        phases=(Phase.generate, Phase.shrink),
    )
    @given(parser.given)
    def every(case: object) -> None:
        one(case)

    every()


def _memory_mb(process: psutil.Process) -> float:
    gc.collect()
    return float(process.memory_info().rss / 1e6)


def _open_files(process: psutil.Process) -> int:
    return process.num_fds() if os.name == "posix" else len(process.open_files())
