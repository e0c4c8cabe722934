"""A session as one JSON object, for scripts."""

from typing import Any

from companion.lesson.mark import Mark
from companion.lesson.near_miss import NearMiss
from companion.lesson.session import Session


def session_json(session: Session) -> dict[str, Any]:
    """Return what `--json` prints of a session; times are seconds since it opened."""
    return {
        "session": session.id,
        "class_group": session.class_group,
        "phases": [
            {
                "name": span.name,
                "began_s": span.began_ms / 1000,
                "ended_s": None if span.ended_ms is None else span.ended_ms / 1000,
            }
            for span in session.phases
        ],
        "marks": [_mark(mark) for mark in session.marks],
        "near_misses": [_near_miss(miss) for miss in session.near_misses],
        "praise": session.praise,
        "reminder": session.reminder,
        "margin": session.margin,
        "recognition": session.recognition,
        "settled": session.settled,
    }


def _mark(mark: Mark) -> dict[str, Any]:
    return {
        "id": mark.id,
        "at_s": mark.at_ms / 1000,
        "phase": mark.phase,
        "kind": mark.kind.value,
        "scope": mark.scope,
        "routine": mark.routine,
        "source": mark.source.value,
        "phrase": mark.phrase,
        "confidence": mark.confidence,
        "engine": mark.engine,
        "state": mark.state.value,
    }


def _near_miss(miss: NearMiss) -> dict[str, Any]:
    return {
        "id": miss.id,
        "at_s": miss.at_ms / 1000,
        "phase": miss.phase,
        "phrase": miss.phrase,
        "kind": miss.kind.value if miss.kind else None,
        "wish": miss.wish,
        "scope": miss.scope,
        "confidence": miss.confidence,
        "engine": miss.engine,
        "answered": miss.answered,
    }
