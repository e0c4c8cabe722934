"""A chain of hashes over the events of each session, so that a removed or changed event is noticed.

Each link is the SHA-256 of the link before it and of the event's row; the last one is kept beside the events
with their number. It finds what a disk, a program or a hand has done to the file; it is no signature: who may
write the file may also seal it anew.
"""

import hashlib
import json
from collections.abc import Iterable, Mapping
from typing import Any

from companion.log.database import Database

COLUMNS = ("id", "session", "seq", "at", "offset_ms", "kind", "version", "body")
"""What is sealed of a row. A column that is added later is not, so that old seals stay good."""
BEGINNING = ""


def link(previous: str, row: Mapping[str, Any]) -> str:
    """Return the link of the chain that `row` makes after `previous`."""
    sealed = json.dumps([previous, *(row[column] for column in COLUMNS)], ensure_ascii=True)
    return hashlib.sha256(sealed.encode("ascii")).hexdigest()


def chain(rows: Iterable[Mapping[str, Any]], previous: str = BEGINNING) -> str:
    """Return the last link of the chain over `rows`, which go on after the link `previous`."""
    for row in rows:
        previous = link(previous, row)
    return previous


def insert_sealed(db: Database, rows: list[dict[str, Any]]) -> None:
    """Add `rows`, the next events of one session, and move its seal, in the caller's transaction."""
    db.table("event").insert_all(rows)
    session, seq = rows[-1]["session"], rows[-1]["seq"]
    kept = db.execute("SELECT link FROM seal WHERE session = ?", [session]).fetchone()
    _keep(db, session, seq, chain(rows, kept[0] if kept else BEGINNING))


def seal_anew(db: Database, session: str) -> None:
    """Seal the events of a session as they are now, in the caller's transaction."""
    last, seq = BEGINNING, 0
    for row in db.table("event").rows_where("session = ?", [session], order_by="seq"):
        last, seq = link(last, row), row["seq"]
    _keep(db, session, seq, last)


def _keep(db: Database, session: str, seq: int, last: str) -> None:
    db.table("seal").insert({"session": session, "seq": seq, "link": last}, replace=True)
