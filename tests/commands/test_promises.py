"""`companion promises`, and `companion note --today`."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from companion.lesson import event as ev
from companion.lesson.aftercare import HandOver
from companion.lesson.mark import NoteKind, Source
from companion.lesson.promise import PromiseState
from companion.log.care import promises
from companion.log.store import SessionLog, open_log
from tests.commands.conftest import Run
from tests.pages.days import CLOSED, contact, hold, kept, marked

TODAY = datetime.now().astimezone().replace(hour=0, minute=1)
DAY = timedelta(days=1)
NOTE = ev.NoteOpened(NoteKind.OTHER, 0, Source.KEY)


@pytest.fixture
def log(tmp_path: Path) -> Iterator[SessionLog]:
    """Return the log of the home that the commands use, with three promises and a lesson not settled."""
    with open_log(tmp_path / "home" / "sessions.db") as opened:
        for group, days in (("4-Hazel", 2), ("6-Alder", -1), ("2-Birch", 0)):
            due = contact((TODAY + days * DAY).date())
            completed = ev.NoteCompleted("n3", "K. T.", NoteKind.OTHER, "a splinter", due)
            hold(
                opened,
                group,
                TODAY,
                NOTE,
                completed,
                *marked(1),
                ev.MarkKept("m5"),
                CLOSED,
                ev.SessionSettled(),
            )
        hold(opened, "5-Oak", TODAY, *marked(2), *kept(2), CLOSED)
        yield opened


def names(run: Run) -> list[str]:
    """Return what the promises are called in the list."""
    return [line.split("  ")[0] for line in run("promises").stdout.splitlines()]


def test_promises_are_listed_due_ones_first(call: Run, log: SessionLog) -> None:
    """Each with its class, child, by whom, how and when; the overdue one says so."""
    lines = call("promises").stdout.splitlines()
    assert [line.split("  ")[1].split(",")[0] for line in lines] == ["6-Alder", "2-Birch", "4-Hazel"]
    assert lines[0].endswith("(overdue)")
    assert "K. T.: the teacher, phone, by " in lines[1]
    assert len(promises(log)) == 3


def test_a_promise_is_ticked_and_the_tick_taken_back(call: Run, log: SessionLog) -> None:
    """With day, line, and whether the class's own teacher is told; the way back is said."""
    name = names(call)[0]
    yesterday = (TODAY - DAY).date()
    said = call("promises", "tick", name, "--on", f"{yesterday}", "--line", "All is well.", "--tell").stdout
    assert "done on" in said
    kept_one = next(one for one in promises(log, every=True) if one.class_group == "6-Alder").promise
    assert (kept_one.state, kept_one.on, kept_one.line) == (PromiseState.KEPT, yesterday, "All is well.")
    assert kept_one.tell
    assert len(names(call)) == 2
    assert "All is well." in call("promises", "--all").stdout
    assert "Take it back with: companion promises undo" in said
    call("promises", "undo", name)
    assert len(names(call)) == 3


def test_a_promise_is_moved_and_dropped(call: Run, log: SessionLog) -> None:
    """To another day; and for a reason, which is asked for."""
    name = names(call)[0]
    call("promises", "move", name, f"{(TODAY + 9 * DAY).date()}")
    assert names(call)[2] == name
    call("promises", "drop", name, said="the nurse called\n")
    assert "dropped: the nurse called" in call("promises", "--all").stdout
    assert len(promises(log)) == 2


@pytest.mark.usefixtures("log")
@pytest.mark.parametrize(
    "words",
    [
        ("tick", "nosuch"),
        ("tick", "FIRST", "--on", "2999-01-01"),
        ("move", "FIRST", "2001-01-01"),
        ("drop", "FIRST", "--reason", " "),
        ("undo", "FIRST"),
    ],
)
def test_what_can_not_be_changes_nothing(call: Run, words: tuple[str, ...]) -> None:
    """An unknown name, a day to come or past, a drop without a reason, nothing to take back."""
    before = call("promises").stdout
    first = names(call)[0]
    call("promises", *(first if word == "FIRST" else word for word in words), code=2)
    assert call("promises").stdout == before


def test_all_notes_of_today_come_in_one_job(call: Run, log: SessionLog, tmp_path: Path) -> None:
    """As text and as a page with one sheet a class; given, they are marked; what is not settled is named."""
    page = tmp_path / "notes.html"
    done = call("note", "--today", "--html", page, "--given")
    assert "Not settled yet, and so not among them: 5-Oak." in done.stderr
    assert [line for line in done.stdout.splitlines() if TODAY.strftime(", %A") in line] != []
    assert page.read_text().count("<article>") == 3
    handed = {one.class_group: log.session(one.session).handed_over for one in log.summaries()}
    assert handed == {
        "4-Hazel": HandOver.GIVEN, "6-Alder": HandOver.GIVEN, "2-Birch": HandOver.GIVEN, "5-Oak": None,
    }  # fmt: skip


def test_today_without_a_settled_lesson_is_said(call: Run) -> None:
    """Nothing is written."""
    assert "No lesson of today is settled yet" in call("note", "--today", code=2).stderr
