"""The rows of a session that weeks of lessons are counted from; all can be made again from the events."""

import math
from collections import Counter
from collections.abc import Iterable

from companion.lesson.mark import Kind, Mark, MarkState, Source
from companion.lesson.session import Session
from companion.log.database import Database

TABLES = ("phase_held", "phrase_heard", "mark_source", "after_lesson", "voice_heard")
"""The tables that hold a session's rows under its name, in a column `session`."""

LEARNT_VOICE = "enrolled"
"""What the engine is called that hears what was learnt of a voice."""
MOST_ODDS = 6.0

PAUSE_S = 120
"""Who does nothing for so long after a lesson does something else: that time is not counted."""
_AFTER = f"""
    INSERT INTO after_lesson
    WITH step AS (
        SELECT seq, 86400 * (julianday(at) - julianday(lag(at) OVER (ORDER BY seq))) AS since_s
        FROM event WHERE session = :session AND seq >= :ended
    )
    SELECT :session, count(*), coalesce(sum(CASE WHEN since_s BETWEEN 0 AND {PAUSE_S} THEN since_s END), 0.0)
    FROM step WHERE seq > :ended HAVING count(*)
"""  # noqa: S608 - a number of our own
"""The steps after a lesson's end and the time between them, told from when they were recorded."""


def write_weeks(db: Database, session: Session) -> None:
    """Put what weeks count of `session` in place of the old rows, in the caller's transaction.

    A lesson that goes on is not counted yet, so that its marks cost the same at the thousandth event.
    """
    if not (session.closed or session.settled):
        return
    for table in TABLES:
        db.table(table).delete_where("session = ?", [session.id])
    db.table("phase_held").insert_all(phases_held(session))
    db.table("phrase_heard").insert_all(_phrases(session))
    sources = Counter((str(mark.source), mark.late) for mark in session.standing)
    db.table("mark_source").insert_all(
        {"session": session.id, "source": source, "late": late, "marks": marks}
        for (source, late), marks in sorted(sources.items())
    )
    if (heard := voice_heard(session)) is not None:
        db.table("voice_heard").insert({"session": session.id, "finds": heard[0], "odds": heard[1]})
    write_after_lesson(db, session.id)


def voice_heard(session: Session) -> tuple[int, float] | None:
    """Return how many marks the learnt voice made that stand, and the sum of their log odds; None for none.

    A near miss that the review confirmed is one of them. Odds beyond `MOST_ODDS` count as that: what is sure
    tells no more of a voice.
    """
    odds = [
        bounded_odds(mark.confidence)
        for mark in session.marks
        if mark.state.stands and mark.source is Source.VOICE
        if mark.engine == LEARNT_VOICE and mark.confidence is not None
    ]
    return (len(odds), round(sum(odds), 2)) if odds else None


def bounded_odds(confidence: float) -> float:
    """Return the log odds of a probability, between `-MOST_ODDS` and `MOST_ODDS`."""
    if not 0 < confidence < 1:
        return MOST_ODDS if confidence > 0 else -MOST_ODDS
    return max(-MOST_ODDS, min(MOST_ODDS, math.log(confidence / (1 - confidence))))


def write_after_lesson(db: Database, session_id: str) -> None:
    """Put the work after the lesson's end, as its events tell it, into the table that lacks its row."""
    sql = "SELECT min(seq) FROM event WHERE session = ? AND kind = 'session closed'"
    ended = db.execute(sql, [session_id]).fetchone()[0]
    if ended is not None:
        db.execute(_AFTER, {"session": session_id, "ended": ended})


def phases_held(session: Session) -> Iterable[dict[str, str | int]]:
    """Yield a row for each phase of the plan that was held, also one without a mark."""
    held = {span.name for span in session.phases} | {mark.phase for mark in session.standing}
    for place, phase in enumerate(session.plan):
        if phase.name in held:
            marks = [mark for mark in session.standing if mark.phase == phase.name]
            yield {
                "session": session.id,
                "phase": phase.name,
                "place": place,
                "praise": _count(marks, Kind.PRAISE),
                "reminder": _count(marks, Kind.REMINDER),
                "named": sum(mark.kind is Kind.PRAISE and mark.routine is not None for mark in marks),
            }


def _count(marks: Iterable[Mark], kind: Kind) -> int:
    return sum(mark.kind is kind for mark in marks)


def _phrases(session: Session) -> Iterable[dict[str, object]]:
    """Yield for each phrase how often it was heard right, heard falsely, and missed but said."""
    right, wrong, missed = Counter[str](), Counter[str](), Counter[str]()
    for mark in session.marks:
        if mark.phrase is None:
            continue
        if mark.state is MarkState.CONFIRMED:
            missed[mark.phrase] += 1
        elif mark.state.stands:
            right[mark.phrase] += mark.source is Source.VOICE
        else:
            wrong[mark.phrase] += 1
    for phrase in sorted(right | wrong | missed):
        yield {
            "session": session.id,
            "phrase": phrase,
            "correct": right[phrase],
            "wrong": wrong[phrase],
            "missed": missed[phrase],
        }
