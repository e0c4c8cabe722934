"""Whether a session log is as it was written: looked at when the companion starts, and in each backup."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path
from typing import Any

from companion.errors import CompanionError
from companion.log.codec import event_of
from companion.log.seal import chain

BUSY_S = 5.0


@dataclass(frozen=True, slots=True)
class Damage:
    """Something in a log that is not as it was written."""

    words: str
    session: str = ""
    """Which session it is in; "" for the file as a whole, which then can't be used."""


def damages(path: Path) -> list[Damage]:
    """Return what is wrong with the log at `path`; nothing for one that is sound, or not there.

    Its sessions are looked at only where the file as a whole is sound.
    """
    if not path.exists():
        return []
    if not path.stat().st_size:
        return [Damage("The file was emptied.")]
    try:
        with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True, timeout=BUSY_S)) as db:
            db.row_factory = sqlite3.Row
            said = [row[0] for row in db.execute("PRAGMA quick_check(3)")]
            if said != ["ok"]:
                return [Damage(f"Pages of the file are damaged ({'; '.join(said)}).")]
            return list(_in_sessions(db))
    except (sqlite3.DatabaseError, UnicodeDecodeError) as error:
        if isinstance(error, sqlite3.OperationalError) and "locked" in str(error):
            raise CompanionError(
                f"The session log {path} is locked.", remedy="End other programs that use it."
            ) from error
        return [Damage(f"The file can't be read ({error}).")]


def _in_sessions(db: sqlite3.Connection) -> Iterator[Damage]:
    tables = {row[0] for row in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    if "event" not in tables:
        yield Damage("The file holds no events.")
        return
    seals: dict[str, tuple[int, str]] = {}
    if "seal" in tables:
        seals = {row["session"]: (row["seq"], row["link"]) for row in db.execute("SELECT * FROM seal")}
    rows = (dict(row) for row in db.execute("SELECT * FROM event ORDER BY session, seq"))
    for session, of_session in groupby(rows, key=lambda row: str(row["session"])):
        events = list(of_session)
        seq, last = seals.pop(session, (events[-1]["seq"], "") if "seal" in tables else (0, ""))
        for words in _in_session(events, seq, last):
            yield Damage(words, session)
    for session in seals:
        yield Damage("All of its events are gone.", session)


def _in_session(events: list[dict[str, Any]], seq: int, last: str) -> Iterator[str]:
    """Yield what is wrong with the events of a session. seq: 0 where it was never sealed."""
    missing = sorted({*range(1, max(seq, events[-1]["seq"]) + 1)} - {row["seq"] for row in events})
    if missing:
        yield f"{'Event' if len(missing) == 1 else 'Events'} {_numbers(missing)} missing."
    unreadable = [row["seq"] for row in events if not is_readable(row)]
    if unreadable:
        yield f"{'Event' if len(unreadable) == 1 else 'Events'} {_numbers(unreadable)} unreadable."
    if seq and not missing and not unreadable and chain(events) != last:
        yield "Something in it was changed after it was recorded."


def is_readable(row: dict[str, Any]) -> bool:
    """Whether the row of an event can be read, by this version or a newer one."""
    try:
        event_of(row)
    except CompanionError:
        return False
    except (ValueError, TypeError, KeyError):
        return False
    return True


def _numbers(numbers: list[int], most: int = 8) -> str:
    shown = ", ".join(str(number) for number in numbers[:most])
    return shown + (f" and {len(numbers) - most} more are" if len(numbers) > most else _verb(numbers))


def _verb(numbers: list[int]) -> str:
    return " is" if len(numbers) == 1 else " are"
