"""What the running companion says to who asks it."""

import sqlite3
from contextlib import closing
from pathlib import Path
from threading import Event

import pytest

from companion.background.requests import Requests, _no_routine, _unplanned
from companion.errors import CompanionError
from companion.log.store import open_log
from companion.paths import Home
from tests.lesson.builders import told
from tests.live.room import Room
from tests.school_day import settings


def test_a_class_group_that_is_not_on_the_timetable_is_told() -> None:
    """It is taken all the same; one that is like it is named, with the way to say so."""
    school = settings(timetable=True)
    assert _unplanned("4-Hazel", school) == ""
    assert _unplanned("4-Hazle", settings()) == "", "there is no timetable"
    assert _unplanned("4-Hazle", school) == (
        "4-Hazle is not on the timetable; taken as typed. Was 4-Hazel meant? Then say: companion name 4-Hazel"
    )
    assert _unplanned("parents", school) == "parents is not on the timetable; taken as typed."


def test_a_routine_that_is_not_in_the_plan_is_told() -> None:
    """It is taken all the same."""
    lesson = told()
    assert _no_routine("tools back", lesson) == ""
    assert _no_routine(None, lesson) == ""
    assert _no_routine("tool back", lesson) == (
        "“tool back” is no routine of the plan; taken as typed. Was “tools back” meant?"
    )
    assert _no_routine("humming", lesson) == "“humming” is no routine of the plan; taken as typed."


def test_a_lesson_that_is_closed_in_memory_only_is_told_as_that(tmp_path: Path) -> None:
    """Its review would be refused: in the log it goes on."""
    room = Room(tmp_path)
    requests = Requests(room.live, None, None, Event(), Home(room.path.parent))  # type: ignore[arg-type]
    try:
        requests.answer({"do": "open", "class_group": "4-Hazel", "plan": None, "room": ""})
        with closing(sqlite3.connect(room.path, isolation_level=None)) as other:
            other.execute("BEGIN IMMEDIATE")
            with pytest.raises(CompanionError, match="in memory"):
                requests.answer({"do": "close"})
        room.live.tick().result()
        with open_log(room.path) as log:
            assert log.find().closed
    finally:
        room.live.stop()
