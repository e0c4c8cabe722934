"""A log that an older version wrote: it folds to the same sessions.

`before_steps/` was written by the version before steps were kept as batches, with every kind of event that
it knew; beside it stands what that version made of it.
"""

import json
import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import closing
from dataclasses import asdict
from pathlib import Path
from typing import Any

import pytest

from companion.lesson import event as ev
from companion.lesson.event import Event
from companion.lesson.mark import NoteKind, Source
from companion.lesson.promise import promise_words
from companion.lesson.session import Session
from companion.log.care import promises
from companion.log.codec import event_of, row_of
from companion.log.store import SessionLog, open_log
from tests.lesson.builders import AT

OLD = Path(__file__).parent / "before_steps"
TOLD: Mapping[str, Mapping[str, Any]] = json.loads((OLD / "sessions.json").read_text(encoding="utf-8"))
CARRY_OVER = {"carry_over_before", "carry_over_said"}
"""Kept as a list of what waits by now, and compared on its own."""


@pytest.fixture
def log(tmp_path: Path) -> Iterator[SessionLog]:
    """Open the old log with this version."""
    path = tmp_path / "sessions.db"
    with closing(sqlite3.connect(path)) as db, db:
        db.executescript((OLD / "sessions.sql").read_text(encoding="utf-8"))
    with open_log(path) as opened:
        yield opened


def as_it_was_told(session: Session) -> dict[str, Any]:
    """Return `session` in the words of the old version."""
    said = asdict(session) | {
        "near_misses": [
            asdict(miss) | {"kind": miss.kind, "scope": miss.scope} for miss in session.near_misses
        ],
        "steps": [number for step in session.steps for number in step],
        "praise": session.praise,
        "reminder": session.reminder,
        "recognition": session.recognition,
    }
    back: dict[str, Any] = json.loads(json.dumps(said, default=str))
    return back


def among(old: Any, new: Any) -> Any:  # noqa: ANN401 - JSON
    """Return of `new` only what `old` has: what is kept since then has no counterpart."""
    if isinstance(old, dict) and isinstance(new, dict):
        return {key: among(old[key], new.get(key)) for key in old}
    if isinstance(old, list) and isinstance(new, list) and len(old) == len(new):
        return [among(one, other) for one, other in zip(old, new, strict=True)]
    return new


@pytest.mark.parametrize("session_id", TOLD)
def test_an_old_session_is_what_it_was(log: SessionLog, session_id: str) -> None:
    """Marks, phases, notes, gaps, steps, count and recognition: all that the old version told."""
    old = {key: value for key, value in TOLD[session_id].items() if key not in CARRY_OVER}
    with log:
        session = log.session(session_id)
    assert among(old, as_it_was_told(session)) == old


def test_what_was_left_to_say_before_an_old_lesson_is_still_known(log: SessionLog) -> None:
    """And whether it was said."""
    with log:
        for session_id, old in TOLD.items():
            waiting = log.session(session_id).waiting
            assert [one.text for one in waiting] == [text for text in [old["carry_over_before"]] if text], old


def test_a_kind_of_note_that_was_named_anew_still_reads() -> None:
    """An old note "left early" is one of a child that went home sooner, opened and completed."""
    for body in (
        ev.NoteOpened(NoteKind.WENT_HOME_SOONER, 1_000, Source.PAGE),
        ev.NoteCompleted("n2", "K. T.", NoteKind.WENT_HOME_SOONER, "picked up at noon"),
    ):
        event = Event("01M8GDSXK20G4WB00GAAV6NZYM", "01M8GDSXK20G4WB00GAAV6NZYK", 2, AT, 1_000, body, "b")
        row = row_of(event)
        row["body"] = str(row["body"]).replace("went home sooner", "left early")
        assert "left early" in str(row["body"])
        assert event_of(row) == event


def test_what_was_kept_at_one_moment_of_an_old_review_is_one_step(log: SessionLog) -> None:
    """The old version took back together what had one wall time."""
    with log:
        steps = [log.session(session_id).steps for session_id in TOLD]
    assert max(len(step) for found in steps for step in found) > 1


def test_a_promise_of_an_old_log_has_its_words_in_place_of_a_day(log: SessionLog) -> None:
    """It is open, never overdue, and comes after those that have a day."""
    with log:
        found = [one.promise for one in promises(log)]
    assert {(one.due, one.words) for one in found} == {(None, "tomorrow")}
    assert not any(one.overdue(AT.date().replace(year=AT.year + 9)) for one in found)
    assert all(promise_words(one, AT.date()).endswith(", tomorrow") for one in found)
