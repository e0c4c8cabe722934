"""The rows of what a session has to look after."""

from datetime import date
from pathlib import Path

from companion.lesson import event as ev
from companion.lesson.aftercare import (
    AwardBroughtBack,
    AwardGiven,
    AwardReturned,
    PromiseKept,
    RoutineTaughtAgain,
)
from companion.lesson.mark import FamilyContact, NoteKind, Source
from companion.log.care_rows import TABLES
from companion.log.store import open_log
from tests.lesson.builders import AT, OPENED

NOTE = ev.NoteOpened(NoteKind.OTHER, 0, Source.KEY)
PLANNED = ev.NoteCompleted("n2", "seat 3", NoteKind.OTHER, "", FamilyContact("the teacher", "phone"))


def test_the_rows_are_those_of_the_session_as_it_is(tmp_path: Path) -> None:
    """Each append puts new ones in place of the old; a routine taught twice is one."""
    again, back = RoutineTaughtAgain("cleanup", "tools back"), AwardBroughtBack("before")
    with open_log(tmp_path / "sessions.db") as log:
        session = log.open_session(OPENED, AT).id
        for body in (NOTE, PLANNED, again, again, AwardGiven("the gnome"), back, ev.CarryOverSaid("before")):
            log.append(session, body, at=AT, offset_ms=0)
        with log.reading() as db:
            assert {table: db.table(table).count for table in TABLES} == dict.fromkeys(TABLES, 1)
            (award,) = db.table("award").rows
            assert (award["object"], award["returned"]) == ("the gnome", None)
        log.append_all(session, (AwardReturned(), PromiseKept("n2", date(2026, 9, 15))), at=AT, offset_ms=0)
        with log.reading() as db:
            (award,), (promise,) = db.table("award").rows, db.table("promise").rows
            assert award["returned"] == AT.isoformat()
            assert (promise["state"], promise["kept_on"]) == ("kept", "2026-09-15")
