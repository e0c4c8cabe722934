"""How long an append takes at the tenth and at the thousandth event: `python -m tests.recording.bench`."""

import statistics
import tempfile
import time
from pathlib import Path

from companion.clock import ComputerClock
from companion.lesson import event as ev
from companion.lesson.command import Action, Command
from companion.lesson.mark import Source
from companion.log.store import SessionLog, open_log
from companion.recording.writer import SessionWriter
from tests.lesson.builders import OPENED

EARLY, LATE, NEAR = 10, 1_000, 10
"""The events at which an append is measured, each with the `NEAR` before and after it."""
KEPT = 60
"""Marks that a review keeps in one step."""


def main() -> None:
    """Print milliseconds of one append, processor and wall time, and how they grow."""
    with tempfile.TemporaryDirectory() as folder, open_log(Path(folder) / "sessions.db") as log:
        log.watch()
        writer = SessionWriter.open(log, OPENED, ComputerClock().wall)
        taken = [_append(writer, number) for number in range(LATE + NEAR)]
        for name, place in (("processor", 0), ("wall", 1)):
            early, late = (
                statistics.median(one[place] for one in taken[at - NEAR : at + NEAR]) for at in (EARLY, LATE)
            )
            print(
                f"{name:9} at {EARLY}: {early:5.1f} ms, at {LATE}: {late:5.1f} ms, ratio {late / early:.2f}"
            )
        print(f"keeping {KEPT} marks at once: {_keep(log, writer):.0f} ms")


def _append(writer: SessionWriter, number: int) -> tuple[float, float]:
    began = time.process_time(), time.perf_counter()
    writer.command(Command(Action.PRAISE), at_ms=number * 3_000, source=Source.KEY)
    return (time.process_time() - began[0]) * 1000, (time.perf_counter() - began[1]) * 1000


def _keep(log: SessionLog, writer: SessionWriter) -> float:
    marks = log.session(writer.session.id).marks[:KEPT]
    began = time.perf_counter()
    writer.append(*(ev.MarkKept(mark.id) for mark in marks), now_ms=4_000_000)
    return (time.perf_counter() - began) * 1000


if __name__ == "__main__":
    main()
