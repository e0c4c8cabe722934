"""How surely a learnt voice was heard, lesson by lesson."""

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

from companion.lesson import aftercare
from companion.lesson import event as ev
from companion.lesson.command import Action, Command
from companion.lesson.mark import Kind, Source
from companion.log.hearing import LessonHeard, lessons_heard
from companion.log.store import SessionLog, open_log
from companion.log.week_rows import MOST_ODDS, bounded_odds
from tests.lesson.builders import AT, OPENED, began, praise

OWN = replace(praise(1, 0.9), engine="enrolled")
MISS = ev.NearMissHeard("praise", 5, 0.25, Command(Action.PRAISE), engine="enrolled")


def hold(log: SessionLog, *bodies: ev.Body, days: int = 0) -> None:
    """Hold a lesson, and settle it."""
    at = AT + timedelta(days=days)
    session = log.open_session(OPENED, at).id
    for body in (began("arrival", 0), *bodies, ev.SessionClosed(9_000, Source.KEY)):
        log.append(session, body, at=at, offset_ms=0)
    log.append(session, ev.SessionSettled(), at=at, offset_ms=0)


def test_marks_that_stand_are_counted_with_confirmed_near_misses(tmp_path: Path) -> None:
    """Not those that were dropped, that a key made, or that another engine heard."""
    other, by_key = praise(2, 0.9), replace(OWN, source=Source.KEY, confidence=None)
    with open_log(tmp_path / "sessions.db") as log:
        session = log.open_session(OPENED, AT).id
        for body in (began("arrival", 0), OWN, OWN, other, by_key, MISS):
            log.append(session, body, at=AT, offset_ms=0)
        after = (
            ev.SessionClosed(9_000, Source.KEY),
            ev.MarkDropped("m4"),
            ev.NearMissConfirmed("c7", Kind.PRAISE),
        )
        log.append_all(session, after, at=AT, offset_ms=0)
        assert lessons_heard(log, AT) == []
        log.append(session, ev.SessionSettled(), at=AT, offset_ms=0)
        sure = round(bounded_odds(0.9) + bounded_odds(0.25), 2)
        assert lessons_heard(log, AT) == [LessonHeard(AT.date(), 2, sure)]


def test_lessons_come_in_their_order_since_the_voice_was_learnt(tmp_path: Path) -> None:
    """A guest's is left out, and so is one without a mark by voice."""
    with open_log(tmp_path / "sessions.db") as log:
        hold(log, OWN, days=2)
        hold(log, OWN, days=1)
        hold(log, OWN)
        hold(log, OWN, aftercare.SessionTaught(by_guest=True), days=3)
        hold(log, days=4)
        heard = lessons_heard(log, AT + timedelta(hours=1))
        assert [lesson.day.day for lesson in heard] == [15, 16]


def test_what_is_sure_counts_no_more_than_sure() -> None:
    """Nor does what is out of the question count less."""
    assert [bounded_odds(sure) for sure in (1.0, 0.5, 0.0)] == [MOST_ODDS, 0, -MOST_ODDS]
