"""Which lesson a command is about, when a day has several."""

from datetime import timedelta
from pathlib import Path

import pytest

from companion.lesson import event as ev
from companion.lesson.mark import NoteKind, Source
from companion.log.care import unsaid
from companion.log.store import SessionLog, open_log
from tests.commands.conftest import Run
from tests.lesson.builders import AT, LEVELS, PLAN, began, praise

CLOSED = ev.SessionClosed(120_000, Source.KEY)


def held(log: SessionLog, class_group: str, hours: int, *bodies: ev.Body) -> str:
    """Hold a lesson some hours after the first one, and return its name."""
    at = AT + timedelta(hours=hours)
    session = log.open_session(ev.SessionOpened(class_group, PLAN, LEVELS, ("one", "two")), at)
    for body in (began("arrival", 0), praise(30_000), *bodies):
        log.append(session.id, body, at=at, offset_ms=getattr(body, "at_ms", 0))
    return session.id


@pytest.fixture
def log(tmp_path: Path) -> SessionLog:
    """Return the log of `run`'s home."""
    return open_log(tmp_path / "home" / "sessions.db")


def test_a_lesson_that_is_going_on_is_not_the_one_that_is_settled(call: Run, log: SessionLog) -> None:
    """The newest that waits is; the one that is open stays open, and its carry-over is nobody's."""
    waits = held(log, "3-Maple", 0, CLOSED)
    opened = held(log, "4-Hazel", 1)
    done = call("settle", "--unreviewed", "--carry-over", "Boots first.")
    assert "3-Maple is settled" in done.stdout
    assert log.session(waits).settled
    assert not log.session(opened).settled
    assert [(left.class_group, left.text) for left in unsaid(log)] == [("3-Maple", "Boots first.")]


@pytest.mark.parametrize(
    "command", [["review"], ["settle", "--unreviewed"], ["note"], ["review", "keep", "all"]]
)
def test_an_open_lesson_is_refused_with_what_to_do(call: Run, log: SessionLog, command: list[str]) -> None:
    """Whether it is the only one or is named."""
    opened = held(log, "4-Hazel", 1)
    before = log.session(opened)
    assert "companion close" in call(*command, code=2).stderr
    named = [command[0], "4-hazel", *command[1:]]
    assert "4-Hazel, Monday 14 September, 10:10, is still open" in call(*named, code=2).stderr
    assert log.session(opened) == before


def test_lessons_that_wait_are_named(call: Run, log: SessionLog) -> None:
    """The newest is taken; a class group, in any case of letters, names another one."""
    older = held(log, "3-Maple", 0, CLOSED)
    held(log, "4-Hazel", 1, CLOSED)
    done = call("review", "--list")
    assert f"Also waiting for its review: 3-Maple, Monday 14 September, 09:10 ({older[:10]})" in done.stderr
    assert "3-Maple is settled" in call("settle", "3-maple", "--unreviewed").stdout
    assert "4-Hazel, Monday" in call("note").stdout
    assert "3-Maple, Monday" in call("note", older[:10]).stdout


def test_the_note_is_of_the_lesson_that_was_settled_just_now(call: Run, log: SessionLog) -> None:
    """Though an older one still waits, which is told."""
    held(log, "3-Maple", 0, CLOSED)
    held(log, "4-Hazel", 1, CLOSED)
    call("settle", "--unreviewed")
    done = call("note")
    assert done.stdout.startswith("4-Hazel")
    assert "3-Maple" in done.stderr


def test_a_session_that_was_left_open_is_closed_without_a_running_companion(
    call: Run, log: SessionLog
) -> None:
    """At its last event; where none is open, nothing is done and the status says so."""
    opened = held(log, "4-Hazel", 0)
    assert "4-Hazel is closed, 1 praise" in call("close").stdout
    assert log.session(opened).closed_ms == 30_000
    assert "not running" in call("close", code=2).stderr


def test_unfinished_notes_stand_on_top_until_completed_or_dropped(call: Run, log: SessionLog) -> None:
    """Of the review, of the settling and beside the note; one that was forgotten can be added."""
    opened = (ev.NoteOpened(NoteKind.HEALTH_OFFICE, 60_000, Source.VOICE),) * 2
    lesson = held(log, "4-Hazel", 0, *opened, CLOSED)
    assert [line[:18] for line in call("review", "--list").stdout.splitlines()[:2]] == [
        "Unfinished note n4",
        "Unfinished note n5",
    ]
    assert "Unfinished note n4" in call("note").stderr
    call("review", "note", "n4", "--child", "seat 12")
    assert "n5" in call("review", "--list").stdout
    call("review", "drop", "n5")
    assert "Unfinished" not in call("review", "--list").stdout
    call("review", "note", "--child", "-", "--line", "-", "--about", "peer conflict", said="J. K.\nquiet\n")
    assert "Unfinished" not in call("settle", "--unreviewed").stdout
    assert [(note.child, note.kind) for note in log.session(lesson).notes] == [
        ("seat 12", NoteKind.HEALTH_OFFICE),
        ("J. K.", NoteKind.PEER_CONFLICT),
    ]


@pytest.mark.parametrize(
    "wrong",
    [
        ["change", "m3", "--scope", "Bob Smith"],
        ["add", "praise", "--phase", "arrival", "--scope", "table nine"],
        ["note", "n4", "--child", "Bob Smith"],
        ["note", "n4", "--child", "Bob"],
        ["note", "--child", "Bob Smith 3"],
        ["note", "n4", "--child", "seat 3", "--family", "I", "", "today"],
        ["add", "praise", "--phase", "arrival", "--at-s", "nan"],
        ["add", "praise", "--phase", "arrival", "--at-s=-5"],
        ["add", "praise", "--phase", "arrival", "--at-s", "99999999"],
        ["change", "m3"],
        ["keep", "m3", "m99"],
    ],
)
def test_what_can_not_be_leaves_no_trace(call: Run, log: SessionLog, wrong: list[str]) -> None:
    """No child's name in count or note, no mark outside the lesson, no half of a step."""
    lesson = held(log, "4-Hazel", 0, ev.NoteOpened(NoteKind.OTHER, 60_000, Source.KEY), CLOSED)
    before = log.session(lesson)
    assert call("review", *wrong, code=2).stderr
    assert log.session(lesson) == before


def test_keeping_what_is_kept_already_says_so(call: Run, log: SessionLog) -> None:
    """With a status that a script can see."""
    held(log, "4-Hazel", 0, CLOSED)
    call("review", "keep", "all")
    assert "nothing left" in call("review", "keep", "all", code=2).stderr


def test_the_options_of_the_review_may_follow_the_session(call: Run, log: SessionLog) -> None:
    """As in any other command; a lesson that is going on can be looked at, too."""
    opened = held(log, "4-Hazel", 0)
    assert "arrival" in call("review", opened[:12], "--list").stdout
    assert "4-Hazel" in call("review", "4-hazel", "--json").stdout


def test_a_childs_code_in_words_for_the_class_stops_the_settling(call: Run, log: SessionLog) -> None:
    """It can be written without, or kept as it is by a word of one's own; so with a mark that comes late."""
    waits = held(log, "3-Maple", 0, CLOSED)
    late = ("review", waits, "add", "praise", "--phase", "arrival", "--why", "seat 4 cried")
    assert "seat 4 may stand for a child" in call(*late, code=2).stderr
    call(*late, "--with-codes")
    assert "seat 4 cried" in [mark.why for mark in log.session(waits).marks]
    words = ("settle", waits, "--unreviewed", "--carry-over", "Ask K. T. first.")
    assert "K. T. may stand for a child" in call(*words, code=2).stderr
    assert not log.session(waits).settled
    call(*words, "--with-codes")
    assert log.session(waits).carry_over == "Ask K. T. first."
    assert "K. T. may stand" in call("mark", "praise", "--routine", "K. T. helped", code=2).stderr
