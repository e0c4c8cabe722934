"""Sessions from the newest on: the first are there at once, however many there are."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from companion.log.store import SessionLog
from companion.log.summary import Summary, summary_from

_WHERE = """
    WHERE (:class_group IS NULL OR class_group = :class_group) AND (:end IS NULL OR opened_at < :end)
"""


@dataclass(frozen=True, slots=True)
class Listed:
    """How many sessions there are, and since when."""

    sessions: int
    first_day: date | None
    """None if there is none."""


def newest_first(
    log: SessionLog, class_group: str | None = None, *, until: date | None = None, most: int = -1
) -> Iterator[Summary]:
    """Return the summaries of sessions, newest first.

    class_group: only its own. until: the last day. most: no more than so many.
    """
    wanted = {
        "class_group": class_group,
        # Behind every time of that day.
        "end": f"{until}~" if until else None,
        "most": most,
    }
    sql = f"SELECT * FROM summary {_WHERE} ORDER BY julianday(opened_at) DESC, session DESC LIMIT :most"  # noqa: S608
    with log.reading() as db:
        found = db.execute(sql, wanted)
        names = [column[0] for column in found.description]
        # All at once: who looks at them for an hour holds no file meanwhile.
        rows = found.fetchall()
    return (summary_from(dict(zip(names, row, strict=True))) for row in rows)


def recognitions(log: SessionLog) -> list[str]:
    """Return every recognition that any session came to."""
    with log.reading() as db:
        rows = db.execute("SELECT DISTINCT recognition FROM summary WHERE recognition IS NOT NULL")
        return [row[0] for row in rows]


def listed(log: SessionLog) -> Listed:
    """Return how many sessions the log has, and the day of the first one by the clock on the wall of then."""
    with log.reading() as db:
        number, first = db.execute("SELECT count(*), min(opened_at) FROM summary").fetchone()
    return Listed(number, date.fromisoformat(first[:10]) if first else None)
