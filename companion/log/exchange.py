"""The log in other places: backup to a file, export as text, merge of another computer's log."""

import json
import os
import sqlite3
from collections.abc import Iterator
from pathlib import Path

from companion.errors import CompanionError
from companion.lesson.fold import fold
from companion.log.codec import event_of, row_of
from companion.log.seal import insert_sealed
from companion.log.store import SessionLog, reading_only
from companion.log.summary import write_summary


def backup(log: SessionLog, target: Path) -> None:
    """Copy the log to the new file `target`, also while a lesson is going on. Private to the user.

    Raises CompanionError if there is such a file or it can't be written.
    """
    try:
        os.close(os.open(target, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
        with log.reading() as db, sqlite3.connect(target) as copy:
            db.conn.backup(copy)
        copy.close()
    except FileExistsError as error:
        raise CompanionError(
            f"There is a file {target} already.", safe="It was not changed.", remedy="Name another one."
        ) from error
    except (OSError, sqlite3.Error) as error:
        target.unlink(missing_ok=True)
        raise CompanionError(
            f"The backup can't be written to {target} ({error}).",
            safe="The session log was not changed.",
            remedy="Free the disk or name another place.",
        ) from error


def export_lines(log: SessionLog, session_id: str) -> Iterator[str]:
    """Yield the events of a session as JSON, one a line, in their order."""
    for event in log.events(session_id):
        yield json.dumps(row_of(event), ensure_ascii=False)


def merge(log: SessionLog, other: Path) -> tuple[int, int]:
    """Take into `log` what the log `other` knows more; return the numbers of new and of longer sessions.

    `other` is read where it lies, and neither it nor its folder is changed. Sessions are told apart by their
    ULID. Where both know a session, the longer record is taken if the
    shorter is its beginning.

    Raises CompanionError if `other` is no session log, or if a session went on differently on both
    computers; nothing is taken then.
    """
    if not other.is_file():
        raise CompanionError(f"There is no file {other}.", remedy="Name the other computer's sessions.db.")
    with reading_only(other) as theirs, log.writing() as db:
        new, longer = 0, 0
        for summary in theirs.summaries():
            events = theirs.events(summary.session)
            rows = [row_of(event) for event in events]
            known = [
                dict(row)
                for row in db.table("event").rows_where("session = ?", [summary.session], order_by="seq")
            ]
            shared = min(len(rows), len(known))
            if [row["id"] for row in rows[:shared]] != [row["id"] for row in known[:shared]]:
                raise CompanionError(
                    f"The session of {summary.class_group} on {summary.opened_at:%d %B %Y} went on"
                    " differently on both computers.",
                    safe="Nothing was taken over.",
                    remedy=f"Export and purge one of the two records of {summary.session}, then merge again.",
                )
            if len(rows) <= len(known):
                continue
            insert_sealed(db, rows[shared:])
            write_summary(db, fold(event_of(row) for row in rows))
            new, longer = (new, longer + 1) if known else (new + 1, longer)
    return new, longer
