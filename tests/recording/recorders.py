"""Recorders as a companion has them, and a log that another program holds."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from companion.lesson.command import Action, Command
from companion.lesson.opening import Opening
from companion.listening.candidate import Candidate
from companion.log.store import SessionLog
from companion.recording.heartbeat import Heartbeat
from companion.recording.recorder import Recorder
from tests.school_day import HandClock, settings

PRAISE = Command(Action.PRAISE)
HAZEL = Opening("4-Hazel")


def recorder_on(log: SessionLog, clock: HandClock) -> Recorder:
    """Return a recorder as a companion that was just started has it."""
    return Recorder(log, settings(), clock, Heartbeat(log.path.with_suffix(".beat")))


@contextmanager
def locked(log: SessionLog) -> Iterator[None]:
    """Hold the log as a program does that writes and writes; nobody waits long for it."""
    log.wait_for_others(0.01)
    other = sqlite3.connect(log.path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    try:
        yield
    finally:
        other.execute("ROLLBACK")
        other.close()


def patience_s(log: SessionLog) -> float:
    """Return how long the log waits for another program."""
    with log.reading() as db:
        return float(db.execute("PRAGMA busy_timeout").fetchone()[0]) / 1000


def rescued(log: SessionLog) -> bool:
    """Whether there is a rescue file beside the log."""
    return log.path.with_name("sessions-rescue.jsonl").exists()


def candidate(phrase: str, begin_ms: int, *, fired: bool = True) -> Candidate:
    """Return a phrase as a spotter gives it."""
    return Candidate(phrase, begin_ms, begin_ms + 900, begin_ms + 1400, 0.9, fired, "test")
