"""Whether a session log is as it was written: looked at when the companion starts, each day, in each backup.

As `python -m companion.log.damage FILE LANGUAGE PARENT` it says so as JSON, in a process that gives way to
all others.
"""

import json
import os
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import closing, suppress
from dataclasses import asdict, dataclass
from itertools import groupby
from pathlib import Path
from typing import Any

from companion.errors import CompanionError
from companion.language import _, many, speak, spoken
from companion.log.codec import event_of
from companion.log.plain_errors import SQLITE_ERRORS, is_of_the_disk, plain_errors, words_of
from companion.log.seal import chain
from companion.parent import end_with
from companion.paths import sqlite_uri

BUSY_S = 5.0
NEWEST = 50
"""Sessions whose events are read at a start: those since the last day on which all were read, and more."""
LOOK_S = 0.2
MOST_NUMBERS = 8
"""So many events are named; of more their number is said."""


@dataclass(frozen=True, slots=True)
class Damage:
    """Something in a log that is not as it was written."""

    words: str
    session: str = ""
    """Which session it is in; "" for the file as a whole, which then can't be used."""


def damages(path: Path, *, newest: int | None = None) -> list[Damage]:
    """Return what is wrong with the log at `path`; nothing for one that is sound, or not there.

    Its sessions are looked at only where the file as a whole is sound. newest: read the events of so many
    sessions only, and of those in which events are missing; None: of all.

    Raises LogError if it can't be looked at just now, which says nothing of the file: another program holds
    it, or the disk is full.
    """
    if not path.exists():
        return []
    if not path.stat().st_size:
        return [Damage(_("The file was emptied."))]
    with plain_errors(path):
        return _look(path, newest)


def page_damages(db: sqlite3.Connection) -> list[str]:
    """Return what SQLite finds wrong with the pages of the whole file, three things at most.

    Twice as long as quick_check, which passes over an index that lacks a row.
    """
    said = [str(row[0]) for row in db.execute("PRAGMA integrity_check(3)")]
    return [] if said == ["ok"] else said


def _look(path: Path, newest: int | None) -> list[Damage]:
    try:
        with closing(sqlite3.connect(sqlite_uri(path, "ro"), uri=True, timeout=BUSY_S)) as db:
            db.row_factory = sqlite3.Row
            # What is written meanwhile is not seen: numbers and seals belong together.
            db.execute("BEGIN")
            if said := page_damages(db):
                return [Damage(_("Pages of the file are damaged ({said}).", said="; ".join(said)))]
            return list(_in_sessions(db, newest))
    except SQLITE_ERRORS as error:
        if is_of_the_disk(error):
            raise
        return [Damage(_("The file can't be read ({error}).", error=words_of(error)))]


def damages_aside(path: Path, given_up: threading.Event) -> list[Damage]:
    """Return what `damages` does, found by a process that gives way to a lesson that goes on meanwhile.

    given_up: ends that process when it is set. Raises CompanionError if nothing can be found out.
    """
    command = [sys.executable, "-m", "companion.log.damage", str(path), spoken(), str(os.getpid())]
    calm = getattr(subprocess, "BELOW_NORMAL_PRIORITY_CLASS", 0)
    try:
        with subprocess.Popen(  # noqa: S603 - this very program
            command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, creationflags=calm
        ) as process:
            while True:
                if given_up.is_set():
                    process.kill()
                with suppress(subprocess.TimeoutExpired):
                    told = process.communicate(timeout=LOOK_S)[0]
                    return [Damage(**found) for found in json.loads(told)]
    except (OSError, ValueError, TypeError) as error:
        raise CompanionError(
            _("The session log {path} could not be looked through.", path=path),
            safe=_("Nothing in it was changed."),
            remedy=_("Look through it yourself: companion log verify"),
        ) from error


def _in_sessions(db: sqlite3.Connection, newest: int | None) -> Iterator[Damage]:
    tables = {row[0] for row in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    if "event" not in tables:
        yield Damage(_("The file holds no events."))
        return
    seals: dict[str, tuple[int, str]] = {}
    if "seal" in tables:
        seals = {row["session"]: (row["seq"], row["link"]) for row in db.execute("SELECT * FROM seal")}
    there = {row["session"] for row in db.execute("SELECT DISTINCT session FROM event")}
    for session in sorted(seals.keys() - there):
        yield Damage(_("All of its events are gone."), session)
    where = "1" if newest is None or not seals else _SOME
    rows = (
        dict(row)
        for row in db.execute(
            f"SELECT * FROM event WHERE {where} ORDER BY session, seq",  # noqa: S608 - our own words
            {"newest": newest},
        )
    )
    for session, of_session in groupby(rows, key=lambda row: str(row["session"])):
        events = list(of_session)
        seq, last = seals.get(session, (events[-1]["seq"], "") if "seal" in tables else (0, ""))
        for words in _in_session(events, seq, last):
            yield Damage(words, session)


def _in_session(events: list[dict[str, Any]], seq: int, last: str) -> Iterator[str]:
    """Yield what is wrong with the events of a session. seq: 0 where it was never sealed."""
    missing = sorted({*range(1, max(seq, events[-1]["seq"]) + 1)} - {row["seq"] for row in events})
    if missing:
        yield _missing(missing)
    unreadable = [row["seq"] for row in events if not is_readable(row)]
    if unreadable:
        yield _unreadable(unreadable)
    if seq and not missing and not unreadable and chain(events) != last:
        yield _("Something in it was changed after it was recorded.")


def is_readable(row: dict[str, Any]) -> bool:
    """Whether the row of an event can be read, by this version or a newer one."""
    try:
        event_of(row)
    except CompanionError:
        return False
    except (ValueError, TypeError, KeyError):
        return False
    return True


def _missing(numbers: list[int]) -> str:
    events = _shown(numbers)
    if more := len(numbers[MOST_NUMBERS:]):
        return many(
            "Events {events} and {count} more are missing.",
            "Events {events} and {count} more are missing.",
            more,
            events=events,
        )
    return many("Event {events} is missing.", "Events {events} are missing.", len(numbers), events=events)


def _unreadable(numbers: list[int]) -> str:
    events = _shown(numbers)
    if more := len(numbers[MOST_NUMBERS:]):
        return many(
            "Events {events} and {count} more are unreadable.",
            "Events {events} and {count} more are unreadable.",
            more,
            events=events,
        )
    return many(
        "Event {events} is unreadable.", "Events {events} are unreadable.", len(numbers), events=events
    )


def _shown(numbers: list[int]) -> str:
    return ", ".join(map(str, numbers[:MOST_NUMBERS]))


_SOME = """session IN (
    SELECT * FROM (SELECT session FROM event GROUP BY session ORDER BY max(rowid) DESC LIMIT :newest)
    UNION SELECT session FROM event LEFT JOIN seal USING (session)
        GROUP BY session HAVING max(event.seq) <> count(*) OR coalesce(max(seal.seq), 0) <> count(*))"""
"""The sessions that were written last, and those in which a number is missing."""


if __name__ == "__main__":
    if hasattr(os, "nice"):
        os.nice(10)
    speak(sys.argv[2])
    end_with(int(sys.argv[3]))
    print(json.dumps([asdict(found) for found in damages(Path(sys.argv[1]))]))
