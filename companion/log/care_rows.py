"""The rows of what a session has to look after; all can be made again from the events."""

from typing import Any

from companion.lesson.promise import Promise
from companion.lesson.session import Session
from companion.log.database import Database

TABLES = ("carry_over_answer", "promise", "award", "award_back", "taught_again")
"""The tables that hold a session's rows under its name, in a column `session`."""


def write_care(db: Database, session: Session) -> None:
    """Put what `session` has to look after in place of the old rows, in the caller's transaction."""
    for table in TABLES:
        db.table(table).delete_where("session = ?", [session.id])
    db.table("carry_over_answer").insert_all(
        {
            "session": session.id,
            "place": place,
            "origin": answer.origin,
            "answer": str(answer.answer),
            "class_group": answer.class_group,
        }
        for place, answer in enumerate(session.answers)
    )
    db.table("promise").insert_all(_promise_row(session.id, promise) for promise in session.promises)
    if session.award is not None:
        db.table("award").insert(
            {
                "session": session.id,
                "object": session.award.object,
                "since": session.award.since.isoformat(),
                "returned": session.award.returned.isoformat() if session.award.returned else None,
            }
        )
    db.table("award_back").insert_all(
        {"session": session.id, "origin": award.origin, "returned": award.at.isoformat()}
        for award in session.brought_back
    )
    db.table("taught_again").insert_all(
        {"session": session.id, "phase": phase, "routine": routine}
        for phase, routine in dict.fromkeys((one.phase, one.routine) for one in session.taught_again)
    )


def _promise_row(session: str, promise: Promise) -> dict[str, Any]:
    return {
        "session": session,
        "note": promise.note,
        "child": promise.child,
        "by_whom": promise.by,
        "how": promise.how,
        "due": promise.due.isoformat() if promise.due else None,
        "words": promise.words,
        "state": str(promise.state),
        "kept_on": promise.on.isoformat() if promise.on else None,
        "line": promise.line,
        "tell": promise.tell,
        "done_at": promise.done_at.isoformat() if promise.done_at else None,
    }
