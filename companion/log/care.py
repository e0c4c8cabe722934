"""What is looked after across sessions: what waits to be said, promises, awards that are out."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from companion.lesson.carry_over import CarriedOver
from companion.lesson.promise import Promise, PromiseState
from companion.lesson.session import Session
from companion.log.store import SessionLog


@dataclass(frozen=True, slots=True)
class Unsaid:
    """A carry-over that waits for a class group."""

    session: str
    """The session that it was written in."""
    class_group: str
    """Which class group it waits for."""
    text: str
    written: datetime
    """When that session opened."""


@dataclass(frozen=True, slots=True)
class Promised:
    """A promise of any session."""

    session: str
    class_group: str
    opened_at: datetime
    promise: Promise


@dataclass(frozen=True, slots=True)
class Lent:
    """An award that is with a class group."""

    session: str
    """The session that it was earned in."""
    class_group: str
    object: str
    since: datetime


_UNSAID = """
    SELECT summary.session, coalesce(moved.class_group, summary.class_group) AS class_group,
        summary.carry_over AS text, summary.opened_at AS written
    FROM summary
    LEFT JOIN (SELECT origin, class_group, max(place) FROM carry_over_answer
        WHERE answer = 'moved' GROUP BY origin) AS moved ON moved.origin = summary.session
    WHERE summary.carry_over <> ''
        AND summary.session NOT IN (SELECT origin FROM carry_over_answer WHERE answer <> 'moved')
        AND (:class_group IS NULL OR coalesce(moved.class_group, summary.class_group) = :class_group)
        AND NOT EXISTS (SELECT 1 FROM summary AS later WHERE later.class_group = summary.class_group
            AND later.opened_at > summary.opened_at AND NOT later.lists_waiting)
    ORDER BY julianday(summary.opened_at), summary.session
"""
"""A session of an older log used up what the one before it had left: nothing waited longer."""


def unsaid(log: SessionLog, class_group: str | None = None) -> list[Unsaid]:
    """Return the carry-overs that wait, of all class groups or for one, oldest first."""
    with log.reading() as db:
        return [
            Unsaid(**row | {"written": datetime.fromisoformat(row["written"])})
            for row in db.query(_UNSAID, {"class_group": class_group})
        ]


def answered_last(log: SessionLog, most: int = 12) -> list[str]:
    """Return the sessions in which their own carry-over was said, moved or dropped, last touched first."""
    sql = (
        "SELECT session FROM carry_over_answer WHERE origin = session GROUP BY session "
        "ORDER BY max(rowid) DESC LIMIT :most"
    )
    with log.reading() as db:
        return [str(row["session"]) for row in db.query(sql, {"most": most})]


def waiting_for(log: SessionLog, class_group: str) -> tuple[CarriedOver, ...]:
    """Return what is to be said to a class group when it comes, oldest first."""
    return tuple(CarriedOver(one.session, one.text) for one in unsaid(log, class_group))


_PROMISED = """
    SELECT promise.*, summary.class_group, summary.opened_at FROM promise JOIN summary USING (session)
    WHERE {what} ORDER BY coalesce(promise.due, '9999'), julianday(summary.opened_at), promise.note
"""


def promises(log: SessionLog, *, every: bool = False) -> list[Promised]:
    """Return the promises that are open, or every one, due ones first; those without a day come last."""
    return _promised(log, "1" if every else "promise.state = 'open'", {})


def promises_done(log: SessionLog, day: date) -> list[Promised]:
    """Return the promises that were kept or dropped on a day of the computer's own zone."""
    # A day more, since another zone may have had another date.
    done = _promised(
        log, "promise.state <> 'open' AND promise.done_at >= :since", {"since": f"{day - timedelta(days=1)}"}
    )
    return [one for one in done if one.promise.done_at and one.promise.done_at.astimezone().date() == day]


def kept_for_note(log: SessionLog, session: Session) -> list[Promise]:
    """Return the kept promises that stand on the hand-off note of `session`, because the teacher said so.

    They are those of its class group that were kept since the lesson before it and before it opened.
    """
    with log.reading() as db:
        before = db.query(
            "SELECT max(julianday(opened_at)) AS day FROM summary WHERE class_group = :class_group "
            "AND julianday(opened_at) < julianday(:opened_at)",
            {"class_group": session.class_group, "opened_at": session.opened_at.isoformat()},
        )
        day = next(iter(before))["day"]
    where = (
        "promise.state = 'kept' AND promise.tell AND summary.class_group = :class_group "
        "AND julianday(promise.done_at) >= :since AND julianday(promise.done_at) < julianday(:opened_at)"
    )
    wanted = {
        "class_group": session.class_group,
        "since": day or 0,
        "opened_at": session.opened_at.isoformat(),
    }
    return [one.promise for one in _promised(log, where, wanted)]


def _promised(log: SessionLog, where: str, wanted: Mapping[str, Any]) -> list[Promised]:
    with log.reading() as db:
        rows = db.query(_PROMISED.format(what=where), dict(wanted))
        return [
            Promised(
                row["session"],
                row["class_group"],
                datetime.fromisoformat(row["opened_at"]),
                Promise(
                    row["note"],
                    row["child"],
                    row["by_whom"],
                    row["how"],
                    _day(row["due"]),
                    row["words"],
                    PromiseState(row["state"]),
                    _day(row["kept_on"]),
                    row["line"],
                    bool(row["tell"]),
                    datetime.fromisoformat(row["done_at"]) if row["done_at"] else None,
                ),
            )
            for row in rows
        ]


_AWARDS = """
    SELECT award.session, class_group, object, since, coalesce(award_back.session, award.session) AS said,
        coalesce(award_back.returned, award.returned) AS back
    FROM award JOIN summary USING (session)
    LEFT JOIN award_back ON origin = award.session AND julianday(award_back.returned) >= julianday(since)
"""
"""Brought back in the class's next lesson, or said to be back; what is given out later is out again."""


def awards_out(log: SessionLog, class_group: str | None = None) -> list[Lent]:
    """Return the awards that are with a class group, of all or of one, those out longest first."""
    where = "WHERE back IS NULL AND (:class_group IS NULL OR class_group = :class_group) "
    with log.reading() as db:
        rows = db.query(_AWARDS + where + "ORDER BY julianday(since)", {"class_group": class_group})
        return [_lent(row) for row in rows]


def awards_back(log: SessionLog, day: date) -> list[tuple[str, Lent]]:
    """Return the awards that came back on a day of the computer's own zone.

    Each comes with the session in which that was said: the one that gave it out, or the class's next.
    """
    where = "WHERE back IS NOT NULL ORDER BY julianday(back) DESC LIMIT 30"
    with log.reading() as db:
        return [
            (row["said"], _lent(row))
            for row in db.query(_AWARDS + where)
            if datetime.fromisoformat(row["back"]).astimezone().date() == day
        ]


def _lent(row: Mapping[str, Any]) -> Lent:
    since = datetime.fromisoformat(row["since"])
    return Lent(row["session"], row["class_group"], row["object"], since)


def _day(text: str | None) -> date | None:
    return date.fromisoformat(text) if text else None
