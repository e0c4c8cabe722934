"""Saves what can be read of a damaged log, and counts it. The damaged file stays as it is."""

import sqlite3
from collections import defaultdict
from collections.abc import Iterable, Iterator
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from ulid import ULID

from companion.lesson import event as ev
from companion.lesson.opening import UNPLANNED
from companion.lesson.plan import Phase, Plan
from companion.log.carve import carved
from companion.log.codec import EventRow, event_of, row_of
from companion.log.copies import put_in_place, salvaged, set_aside, working_copy
from companion.log.damage import is_readable
from companion.log.exchange import Taken, take_over
from companion.log.plain_errors import SQLITE_ERRORS
from companion.log.store import SessionLog, open_log

SCAN_STEP = 1_000
"""Rows that are skipped at most where a page can't be read; SQLite says no more precisely where it is."""


@dataclass(frozen=True, slots=True)
class Salvage:
    """What was saved of a damaged log."""

    events: int
    """Events that could be read."""
    lost: int
    """Events that are known to have been there and could not be read."""
    new: int
    """Sessions that the log did not have."""
    longer: int
    """Sessions of which the log had only the beginning."""
    known: int
    """Sessions that the log has already, as much of them or more."""
    differing: tuple[str, ...]
    """Sessions that went on differently in the log; it keeps its own."""


def salvage(damaged: Path, log: SessionLog) -> Salvage:
    """Take everything readable of the log at `damaged` into `log`, in one transaction.

    Raises CompanionError if the disk does not take it; nothing is taken then.
    """
    found: dict[str, dict[int, EventRow]] = defaultdict(dict)
    with TemporaryDirectory(dir=log.path.parent, prefix="salvage-") as folder:
        copy = working_copy(damaged, Path(folder))
        for row in (*carved(copy), *_readable_rows(copy)):
            if is_readable(row):
                found[row["session"]][row["seq"]] = row
    lost, differing, counts = 0, [], dict.fromkeys(Taken, 0)
    with log.writing() as db:
        for session, rows in sorted(found.items()):
            whole = _mended(session, rows)
            stand_ins = {row["seq"] for row in whole} - {*rows}
            lost += len(stand_ins)
            taken = take_over(db, whole, stand_ins)
            counts[taken] += 1
            if taken is Taken.NOT:
                differing.append(session)
    events = sum(len(rows) for rows in found.values())
    return Salvage(
        events, lost, counts[Taken.NEW], counts[Taken.LONGER], counts[Taken.KNOWN], tuple(differing)
    )


def restore(backup: Path, log: Path, at: datetime) -> Salvage | None:
    """Put a backup in the place of the log at `log`, which is set aside, and save what that had more.

    Return what was saved; None if there was no log. Raises CompanionError if the disk does not let us.
    """
    aside = set_aside(log, at) if log.exists() else None
    put_in_place(backup, log)
    if aside is None:
        return None
    with open_log(log) as opened:
        saved = salvage(aside, opened)
    salvaged(aside)
    return saved


def _readable_rows(copy: Path) -> Iterator[EventRow]:
    """Yield the events that SQLite itself finds, past pages that it can't read."""
    try:
        with closing(sqlite3.connect(copy)) as db:
            db.row_factory = sqlite3.Row
            (last,) = db.execute("SELECT coalesce(max(rowid), 0) FROM event").fetchone()
            for begin in range(1, last + 1, SCAN_STEP):
                yield from _stretch(db, begin, min(begin + SCAN_STEP - 1, last))
    except SQLITE_ERRORS:
        return


def _stretch(db: sqlite3.Connection, begin: int, end: int) -> list[EventRow]:
    """Return the rows of a stretch; where one can't be read, of the halves on both sides of it."""
    try:
        return [
            dict(row) for row in db.execute("SELECT * FROM event WHERE rowid BETWEEN ? AND ?", [begin, end])
        ]
    except SQLITE_ERRORS:
        if begin == end:
            return []
        middle = (begin + end) // 2
        return _stretch(db, begin, middle) + _stretch(db, middle + 1, end)


def _mended(session: str, rows: dict[int, EventRow]) -> list[EventRow]:
    """Return the events of a session without a gap in the numbers, stand-ins in the place of lost ones."""
    nearest, whole = rows[min(rows)], []
    for seq in range(1, max(rows) + 1):
        nearest = rows.get(seq, nearest)
        whole.append(rows.get(seq) or _stand_in(session, seq, nearest, rows.values()))
    return whole


def _stand_in(session: str, seq: int, nearest: EventRow, rows: Iterable[EventRow]) -> EventRow:
    """Return what stands for an event that was lost; a lost opening has the phases that are known of."""
    body: ev.Body = ev.EventLost()
    if seq == 1:
        bodies = [event_of(row).body for row in rows]
        names = dict.fromkeys(body.phase for body in bodies if isinstance(body, ev.PhaseBegan))
        phases = tuple(Phase(name, 1) for name in names or ["lesson"])
        body = ev.SessionOpened(UNPLANNED, Plan("salvaged", phases))
    at = datetime.fromisoformat(nearest["at"])
    return row_of(ev.Event(str(ULID()), session, seq, at, nearest["offset_ms"] if seq > 1 else 0, body))
