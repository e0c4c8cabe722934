"""The log in other places: export as text, merge of another computer's log."""

import json
from collections.abc import Container, Iterator
from enum import StrEnum
from pathlib import Path
from typing import Any

from companion.errors import CompanionError
from companion.language import _
from companion.lesson.day_words import date_words
from companion.lesson.fold import fold
from companion.log.codec import event_of, row_of
from companion.log.database import Database
from companion.log.read_only import reading_only
from companion.log.seal import insert_sealed
from companion.log.store import SessionLog
from companion.log.summary import write_summary


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
        raise CompanionError(
            _("There is no file {file}.", file=other), remedy=_("Name the other computer's sessions.db.")
        )
    counts = dict.fromkeys(Taken, 0)
    with reading_only(other) as theirs, log.writing() as db:
        for summary in theirs.summaries():
            taken = take_over(db, [row_of(event) for event in theirs.events(summary.session)])
            if taken is Taken.NOT:
                raise CompanionError(
                    _(
                        "The session of {class_group} on {day} went on differently on both computers.",
                        class_group=summary.class_group,
                        day=date_words(summary.opened_at),
                    ),
                    safe=_("Nothing was taken over."),
                    remedy=_(
                        "Export and purge one of the two records of {session}, then merge again.",
                        session=summary.session,
                    ),
                )
            counts[taken] += 1
    return counts[Taken.NEW], counts[Taken.LONGER]


class Taken(StrEnum):
    """What came of a session that another log has."""

    NEW = "new"
    LONGER = "longer"
    """The log had only its beginning."""
    KNOWN = "known"
    """The log has as much of it, or more."""
    NOT = "not"
    """It went on differently."""


def take_over(db: Database, rows: list[dict[str, Any]], stand_ins: Container[int] = ()) -> Taken:
    """Take the events of a session as another log has them into `db`, in the caller's transaction.

    stand_ins: the numbers of those that stand for a lost event; they agree with whatever the log has there.
    """
    session = rows[0]["session"]
    known = [dict(row) for row in db.table("event").rows_where("session = ?", [session], order_by="seq")]
    shared = min(len(rows), len(known))
    pairs = zip(rows[:shared], known[:shared], strict=True)
    if any(row["id"] != other["id"] and row["seq"] not in stand_ins for row, other in pairs):
        return Taken.NOT
    if len(rows) <= len(known):
        return Taken.KNOWN
    insert_sealed(db, rows[shared:])
    write_summary(db, fold(event_of(row) for row in rows))
    return Taken.LONGER if known else Taken.NEW
