"""Questions that only history asks, answered by SQLite: no year of events is folded."""

from dataclasses import dataclass

from companion.log.store import SessionLog

ALL_TIME = "0000"
"""A day before every lesson."""


@dataclass(frozen=True, slots=True)
class Earned:
    """How often a recognition ("" for none) was earned in the span that begins on the day `begins`."""

    begins: str
    recognition: str
    sessions: int
    praise: int
    reminder: int


@dataclass(frozen=True, slots=True)
class PhaseCount:
    """Standing marks in a phase over many sessions."""

    phase: str
    praise: int
    reminder: int


_WEEK = "date(substr(opened_at, 1, 10), 'weekday 0', '-6 days')"
_MONTH = "substr(opened_at, 1, 7) || '-01'"
_EARNED = """
    SELECT {span} AS begins, coalesce(recognition, '') AS recognition, count(*) AS sessions,
        sum(praise) AS praise, sum(reminder) AS reminder
    FROM summary WHERE opened_at >= :since AND (:class_group IS NULL OR class_group = :class_group)
    GROUP BY 1, 2 ORDER BY 1, 2
"""
_BY_PHASE = """
    SELECT phase, sum(tally.praise) AS praise, sum(tally.reminder) AS reminder FROM tally
    WHERE (:since = '0000' AND :class_group IS NULL) OR session IN (
        SELECT session FROM summary
        WHERE opened_at >= :since AND (:class_group IS NULL OR class_group = :class_group))
    GROUP BY phase ORDER BY sum(tally.praise + tally.reminder) DESC, phase
"""


def earned(
    log: SessionLog, class_group: str | None = None, *, since: str = ALL_TIME, monthly: bool = False
) -> list[Earned]:
    """Return recognitions and marks by week (or month), oldest first, of one class group or of all.

    since: the first day, as in 2026-09-01.
    """
    sql = _EARNED.format(span=_MONTH if monthly else _WEEK)
    with log.reading() as db:
        return [Earned(**row) for row in db.query(sql, {"since": since, "class_group": class_group})]


def by_phase(log: SessionLog, class_group: str | None = None, *, since: str = ALL_TIME) -> list[PhaseCount]:
    """Return praise and reminders by phase, the phase with the most marks first."""
    with log.reading() as db:
        rows = db.query(_BY_PHASE, {"since": since, "class_group": class_group})
        return [PhaseCount(**row) for row in rows]
