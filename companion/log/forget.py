"""Taking things out of a log for good: whole sessions, individual notes, one child's initials.

It is the one exception to append-only. That something was taken out, when and how much of what, stays on
record; the words do not. What remains is sealed anew and verifies.
"""

import json
import re
import sqlite3
import time
from collections.abc import Callable, Collection
from dataclasses import dataclass, field
from datetime import datetime
from itertools import takewhile
from typing import Any

from ulid import ULID

from companion.errors import CompanionError
from companion.language import _, many
from companion.lesson.event import KIND_OF, NoteForgotten
from companion.lesson.fold import fold
from companion.log import half_years
from companion.log.codec import EventRow, event_of
from companion.log.database import Database
from companion.log.drafts import Drafts
from companion.log.schema import guard_events, unguard_events
from companion.log.seal import seal_anew
from companion.log.store import SessionLog
from companion.log.summary import write_summary
from companion.log.traces import OUR_OWN, set_up_words_of, words_in, words_of

NOTES, SESSIONS, CHILD = "individual notes", "sessions", "notes and mentions of one child"
"""What can be forgotten, as it stands on record."""
GONE = "…"
"""Stands where initials stood within other words."""
READERS_END_S = 10.0
"""How long other programs have to end reading before it is said that the words are still there."""
PLANNED = frozenset({"plan", "levels", "tables", "class_group", "phase", "routine", "room", "phrase"})
"""Fields that hold what was planned before any child came; initials are not looked for in them."""
NOTE_KINDS = ("note opened", "note completed", "note dropped")


@dataclass(frozen=True, slots=True)
class Doomed:
    """What is to be taken out of one log."""

    sessions: frozenset[str] = frozenset()
    rows: dict[str, tuple[str, str]] = field(default_factory=dict)
    """New kind and body of events, by their ids."""
    count: int = 0
    """Of sessions, notes or mentions."""


Choose = Callable[[Database], Doomed]


@dataclass(frozen=True, slots=True)
class Forgotten:
    """Something that was taken out, as it is on record."""

    at: datetime
    what: str
    count: int

    @property
    def words(self) -> str:
        """Say how much of what, without a word of it."""
        return amount(self.what, self.count)


def amount(what: str, count: int) -> str:
    """Return `count` of `what` in words, as in `1 individual note`."""
    if what == NOTES:
        return many("{count} individual note", "{count} individual notes", count)
    if what == SESSIONS:
        return many("{count} session", "{count} sessions", count)
    return many("{count} note or mention of one child", "{count} notes and mentions of one child", count)


class StillReadError(CompanionError):
    """Another program keeps old pages of the file alive; the words are still in them."""

    def __init__(self, elsewhere: str = "") -> None:
        """elsewhere: a sentence on other files in which they stand."""
        what = _(
            "It is taken out of the log, but another program still reads the log, and the words are "
            "still in its file."
        )
        super().__init__(
            f"{what} {elsewhere}".strip(),
            safe=_("Nothing else was changed."),
            remedy=_(
                "End other programs that read it, also the companion, and finish with: companion forget"
            ),
        )


def whole_sessions(sessions: Collection[str]) -> Choose:
    """Choose sessions by their ids, as far as they are there."""

    def choose(db: Database) -> Doomed:
        there = {row["session"] for row in db.query("SELECT DISTINCT session FROM event")}
        found = frozenset(there & {*sessions})
        return Doomed(sessions=found, count=len(found))

    return choose


def notes_before(moment: datetime) -> Choose:
    """Choose all individual notes of sessions that opened before `moment`."""

    def choose(db: Database) -> Doomed:
        old = "SELECT session FROM event WHERE seq = 1 AND julianday(at) < julianday(?)"
        kinds = ", ".join(f"'{kind}'" for kind in NOTE_KINDS)
        sql = f"SELECT * FROM event WHERE kind IN ({kinds}) AND session IN ({old})"  # noqa: S608 - our own words
        rows = list(db.query(sql, [moment.isoformat()]))
        notes = {(row["session"], note) for row in rows if (note := _note(row))}
        return Doomed(rows={row["id"]: _forgotten(row) for row in rows}, count=len(notes))

    return choose


def one_child(initials: str) -> Choose:
    """Choose all notes about a child, and the initials wherever else they stand as a word."""
    word = word_for(initials)

    def choose(db: Database) -> Doomed:
        found = [row for row in db.query("SELECT * FROM event") if _without(row, word)[1] != _same(row)]
        notes = {
            (row["session"], _note(row))
            for row in found
            if row["kind"] == "note completed" and _is_about(row, word)
        }
        rows = {row["id"]: _without(row, word) for row in found}
        for session in {session for session, _note_id in notes}:
            for row in db.query("SELECT * FROM event WHERE session = ?", [session]):
                if row["kind"] in NOTE_KINDS and (session, _note(row)) in notes:
                    rows[row["id"]] = _forgotten(row)
        return Doomed(rows=rows, count=len(notes) + len(rows.keys() & {row["id"] for row in found}))

    return choose


def word_for(child: str) -> re.Pattern[str]:
    """Return what finds a child's code in a text: `K. T.` also as `K.T.`, `KT`, `k. t.`, not in `KTR`.

    Capitals without dots are found only as capitals: `AT` is a child, `at` is a word.
    """
    letters = [letter for letter in child if letter.isalpha()]
    if any(letter.isdigit() for letter in child) or not letters:
        parts = r"\s*".join(map(re.escape, re.findall(r"[^\W\d]+|\d+", child)))
        return re.compile(rf"(?<!\w){parts or re.escape(child)}(?!\w)", re.IGNORECASE)
    dotted = r"\.[\s-]?".join(map(re.escape, letters)) + (r"\.?" if letters[1:] else r"\.")
    plain = r"[\s-]?".join(re.escape(letter.upper()) for letter in letters)
    return re.compile(rf"(?<!\w)(?<!\w\.)(?<!\w\.\s)((?i:{dotted})|{plain})(?!\w|\.?[\s-]?\w\.)")


def take_out(log: SessionLog, choose: Choose, what: str, at: datetime) -> tuple[Doomed, set[str]]:
    """Take what is chosen out of the log, in one transaction; return it, and the words that are gone with it.

    The words are still in the file's free pages until `rewrite`. Raises CompanionError if the disk does not
    let us; nothing is taken out then.
    """
    with log.writing() as db:
        doomed = choose(db)
        if not doomed.count:
            return doomed, set()
        before = _rows(db, doomed)
        unguard_events(db)
        for session in doomed.sessions:
            half_years.take_out(db, session)
            for table in _with_sessions(db):
                db.table(table).delete_where("session = ?", [session])
        for event_id, (kind, body) in doomed.rows.items():
            db.execute("UPDATE event SET kind = ?, body = ? WHERE id = ?", [kind, body, event_id])
        guard_events(db)
        for session in {row["session"] for row in before} - doomed.sessions:
            seal_anew(db, session)
            of_session = db.table("event").rows_where("session = ?", [session], order_by="seq")
            write_summary(db, fold(event_of(row) for row in of_session))
        kept = {"id": str(ULID()), "at": at.isoformat(), "what": what, "count": doomed.count, "gone": 0}
        db.table("forgotten").insert(kept)
        set_up = {word for row in before for word in set_up_words_of(row)}
        gone = {word for row in before for word in _gone_with(row, doomed.rows.get(row["id"]))} - set_up
        remaining = {word for row in db.query("SELECT * FROM event") for word in words_of(row)}
        tables = {str(row["sql"]) for row in db.query("SELECT sql FROM sqlite_master")}
    Drafts(log.path).forget_sessions({row["session"] for row in before})
    Drafts(log.path).forget_words(gone)
    whole = "\n".join(remaining | tables)
    return doomed, {word for word in gone - remaining if word not in whole}


def rewrite(log: SessionLog, *, within_s: float = READERS_END_S) -> None:
    """Write the file anew, so that nothing of what was taken out is in it or in its write-ahead log.

    Raises StillReadError if another program keeps that from being done within that time.
    """
    with log.reading() as db:
        _truncate(db, within_s)
        db.execute("PRAGMA temp_store = MEMORY")
        db.vacuum()
        _truncate(db, within_s)


def mark_gone(log: SessionLog) -> None:
    """Note that all that was taken out is gone from the file as well."""
    with log.writing() as db:
        db.execute("UPDATE forgotten SET gone = 1 WHERE gone = 0")


def is_unfinished(log: SessionLog) -> bool:
    """Whether something was taken out whose words may be in the file still."""
    with log.reading() as db:
        return bool(db.table("forgotten").count_where("gone = 0"))


def times_forgotten(log: SessionLog) -> int:
    """Return how often something was taken out of the log."""
    with log.reading() as db:
        return db.table("forgotten").count


def forgotten_since(log: SessionLog, moment: datetime) -> list[Forgotten]:
    """Return what was taken out since `moment`, newest first."""
    with log.reading() as db:
        rows = db.query("SELECT * FROM forgotten WHERE julianday(at) >= julianday(?)", [moment.isoformat()])
        found = [Forgotten(datetime.fromisoformat(row["at"]), row["what"], row["count"]) for row in rows]
    return sorted(found, key=lambda one: one.at, reverse=True)


def _truncate(db: Database, within_s: float) -> None:
    end_s = time.monotonic() + within_s
    while True:
        try:
            busy = db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0]
        except sqlite3.OperationalError:
            busy = 1
        if not busy:
            return
        if time.monotonic() > end_s:
            raise StillReadError
        time.sleep(0.1)


def _with_sessions(db: Database) -> list[str]:
    """Return the tables whose rows each belong to a session."""
    return [name for name in db.table_names() if "session" in db.table(name).columns_dict]


def _rows(db: Database, doomed: Doomed) -> list[EventRow]:
    """Return the events that are taken out or changed, as they are."""
    found: dict[str, EventRow] = {}
    for session in doomed.sessions:
        found |= {row["id"]: row for row in db.query("SELECT * FROM event WHERE session = ?", [session])}
    for event_id in doomed.rows:
        found |= {row["id"]: row for row in db.query("SELECT * FROM event WHERE id = ?", [event_id])}
    return list(found.values())


def _gone_with(row: EventRow, now: tuple[str, str] | None) -> set[str]:
    """Return the texts that go with an event; of a text that stays, what goes between its ends."""
    if now is None or now[0] != row["kind"]:
        return words_of(row)
    texts = zip(words_in(_body(row)), words_in(json.loads(now[1])), strict=True)
    return {_between(old, new) for old, new in texts}


def _between(old: str, new: str) -> str:
    begin = _alike(old, new)
    return old[begin : len(old) - _alike(old[begin:][::-1], new[begin:][::-1])]


def _alike(one: str, other: str) -> int:
    """Return how many letters two texts have in common at their beginning."""
    return sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1], zip(one, other, strict=False)))


def _note(row: EventRow) -> str:
    """Return which note an event is about; its own where it opens one."""
    return f"n{row['seq']}" if row["kind"] == "note opened" else str(_body(row).get("note", ""))


def _forgotten(row: EventRow) -> tuple[str, str]:
    return KIND_OF[NoteForgotten], json.dumps({"note": _note(row)})


def _is_about(row: EventRow, word: re.Pattern[str]) -> bool:
    return bool(word.fullmatch(str(_body(row).get("child", "")).strip()))


def _same(row: EventRow) -> str:
    return json.dumps(_body(row), ensure_ascii=False)


def _without(row: EventRow, word: re.Pattern[str]) -> tuple[str, str]:
    """Return kind and body of an event without the word in any of its texts."""

    def clean(value: Any) -> Any:  # noqa: ANN401 - whatever JSON holds
        if isinstance(value, str):
            return word.sub(GONE, value)
        if isinstance(value, dict):
            return {name: one if name in PLANNED | OUR_OWN else clean(one) for name, one in value.items()}
        return [clean(one) for one in value] if isinstance(value, list) else value

    return row["kind"], json.dumps(clean(_body(row)), ensure_ascii=False)


def _body(row: EventRow) -> dict[str, Any]:
    body = json.loads(row["body"])
    return body if isinstance(body, dict) else {}
