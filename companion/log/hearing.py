"""How surely a learnt voice was heard, lesson by lesson."""

from dataclasses import dataclass
from datetime import date, datetime

from companion.log.store import SessionLog


@dataclass(frozen=True, slots=True)
class LessonHeard:
    """The marks that a learnt voice made in a lesson and that stand, and the sum of their log odds."""

    day: date
    finds: int
    odds: float


def lessons_heard(log: SessionLog, since: datetime) -> list[LessonHeard]:
    """Return the settled lessons since then in which a learnt voice made marks, oldest first.

    What a guest said is left out: no guest's voice is learnt.
    """
    sql = """
        SELECT substr(opened_at, 1, 10), finds, odds FROM voice_heard JOIN summary USING (session)
        WHERE settled AND NOT by_guest AND julianday(opened_at) >= julianday(?)
        ORDER BY julianday(opened_at), session
    """
    with log.reading() as db:
        rows = db.execute(sql, [since.isoformat()]).fetchall()
    return [LessonHeard(date.fromisoformat(day), finds, odds) for day, finds, odds in rows]
