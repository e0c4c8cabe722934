"""`companion review`, `settle`, `reopen`, `note`, `sessions` and `log` on a real log."""

import json
import os
import pty
import re
import select
import subprocess
import sys
import termios
import time
from importlib.resources import files
from pathlib import Path

import pytest

from companion.lesson import event as ev
from companion.lesson.command import Action, Command
from companion.lesson.mark import NoteKind, Source
from companion.lesson.review_keys import ReviewKey
from companion.log.store import open_log
from tests.commands.conftest import Run
from tests.lesson.builders import AT, OPENED, began, praise, reminder

LESSON = (
    began("arrival", 0),
    praise(30_000),
    reminder(50_000, 0.55),
    began("work time", 60_000),
    praise(65_000),
    ev.NearMissHeard(
        "table one praise", 90_000, 0.4, Command(Action.PRAISE, scope="table one"), "phonemes", ("quiet",)
    ),
    ev.NoteOpened(NoteKind.HEALTH_OFFICE, 95_000, Source.VOICE),
    ev.SessionClosed(120_000, Source.KEY),
)
"""Marks m3, m4 (unsure) and m6 (just after a phase change), near miss c7, note n8."""


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """Return the home of `run`, with one lesson in its log."""
    home = tmp_path / "home"
    with open_log(home / "sessions.db") as log:
        session = log.open_session(OPENED, AT)
        for body in LESSON:
            log.append(session.id, body, at=AT, offset_ms=0)
    return home


def _json(call: Run) -> dict[str, object]:
    found = json.loads(call("review", "--json").stdout)
    assert isinstance(found, dict)
    return found


def test_the_list_shows_the_least_certain_first(call: Run, home: Path) -> None:
    """With time, phase, kind, what was heard, how sure, and what to look at."""
    unfinished, *lines = call("review", "--list").stdout.splitlines()
    assert "n8: health office, 1:35" in unfinished
    assert [line.split()[0] for line in lines[1:5]] == ["m4", "m6", "c7", "m3"]
    assert "0:50" in lines[1]
    assert "55%" in lines[1]
    assert "just after a phase change (or arrival?)" in lines[2]
    assert home.exists()


def test_each_step_is_a_subcommand(call: Run, home: Path) -> None:
    """Keep, change, earlier, drop, restore, add, confirm, note and back, each durable at once."""
    assert home.exists()
    call("review", "keep", "m3")
    call(
        "review",
        "change",
        "m4",
        "--kind",
        "praise",
        "--scope",
        "part of the class",
        "--routine",
        "boots at the door",
    )
    call("review", "earlier", "m6")
    call("review", "add", "reminder", "--phase", "arrival", "--at-s", "12.5")
    call("review", "confirm", "c7")
    call(
        "review",
        "note",
        "n8",
        "--child",
        "seat 12",
        "--line",
        "a splinter",
        "--family",
        "I",
        "phone",
        "today",
    )
    found = _json(call)
    assert (found["praise"], found["reminder"], found["margin"]) == (4, 1, 3)
    marks = {mark["id"]: mark for mark in found["marks"]}  # type: ignore[attr-defined]
    assert marks["m3"]["state"] == "kept"
    assert (marks["m4"]["kind"], marks["m4"]["scope"]) == ("praise", "part of the class")
    assert marks["m6"]["phase"] == "arrival"
    assert marks["m13"]["at_s"] == 12.5
    call("review", "drop", "m13", "m3", "--reason", "twice")
    call("review", "restore", "m3")
    call("review", "back")
    assert _json(call)["praise"] == 3
    call("review", "back")
    found = _json(call)
    assert (found["praise"], found["reminder"]) == (4, 1), "both that were dropped together are back"


def test_a_step_about_nothing_is_a_plain_error(call: Run, home: Path) -> None:
    """And changes nothing."""
    assert home.exists()
    before = _json(call)
    for step in (
        ["keep", "m99"],
        ["drop", "m3", "m99"],
        ["earlier", "m3"],
        ["confirm", "c99"],
        ["confirm", "c7", "c99"],
        ["change", "m3", "--scope", "table nine"],
        ["change", "m3", "--phase", "recess"],
        ["back"],
    ):
        assert call("review", *step, code=2).stderr
    assert _json(call) == before


def test_settling_asks_once_about_unreviewed_marks(call: Run, home: Path) -> None:
    """Then the count is closed; a settled session takes nothing until it is opened with a reason."""
    assert "unreviewed" in call("settle", code=2).stderr
    call("review", "keep", "all")
    done = call(
        "settle",
        "--rating",
        "so-so",
        "--view",
        "A good start.",
        "--carry-over",
        "Practise: stand ready at the gate.",
    )
    assert "2 praises, 1 reminder, margin +1: Turned soil" in done.stdout
    assert "settled" in call("review", "drop", "m3", code=2).stderr
    assert "settled" in call("settle", code=2).stderr
    call("reopen", "--reason", "a mark was missing")
    call("review", "drop", "m3")
    with open_log(home / "sessions.db") as log:
        session = log.find()
        assert session.reopened_for == ("a mark was missing",)
        assert log.summaries("4-Hazel")[0].carry_over == "Practise: stand ready at the gate."


def test_the_recognition_is_overruled_only_with_a_reason(call: Run, home: Path) -> None:
    """And only to a level of the teacher's own table."""
    assert home.exists()
    call("review", "keep", "all")
    assert "reason" in call("settle", "--recognition", "Harvest table", code=2).stderr
    assert "no level" in call("settle", "--recognition", "Oak", "--reason", "x", code=2).stderr
    done = call("settle", "--recognition", "Harvest table", "--reason", "They helped a new child.")
    assert done.stdout.endswith(": Harvest table\n"), "no further praise leads on"


def test_the_note_is_text_and_a_printable_page(call: Run, home: Path, tmp_path: Path) -> None:
    """The page stands alone and holds the same words, escaped."""
    call("review", "keep", "all")
    call("review", "note", "n8", "--child", "seat 12", "--line", "cut <thumb> & cried")
    call("settle")
    page = tmp_path / "note.html"
    text = call("note", "--html", page).stdout
    assert "Recognition: Turned soil" in text
    assert "- seat 12: health office, cut <thumb> & cried." in text
    html = page.read_text(encoding="utf-8")
    assert "cut &lt;thumb&gt; &amp; cried" in html
    assert "http" not in html
    assert page.stat().st_mode & 0o077 == 0
    assert "can't be written" in call("note", "--html", home / "nowhere" / "note.html", code=2).stderr


def test_sessions_lists_what_is_in_the_log(call: Run, home: Path) -> None:
    """Newest first, with what is still to do."""
    assert "3 to review" in call("sessions").stdout
    row = json.loads(call("sessions", "--json").stdout)
    assert (row["class_group"], row["margin"]) == ("4-Hazel", 1)
    told = call("sessions", "--class-group", "5-Rowan", "--json", code=2)
    assert (told.stdout, "sessions of: 4-Hazel" in told.stderr) == ("", True)
    assert home.exists()


def test_an_empty_log_is_told_in_plain_words(call: Run) -> None:
    """With the way to a first session."""
    assert "companion demo" in call("review", code=2).stderr
    assert "no session" in call("sessions").stdout


def test_the_log_is_backed_up_exported_merged_and_purged(call: Run, home: Path, tmp_path: Path) -> None:
    """Each with one command, and with the caution where something leaves the computer."""
    assert "law" in call("log", "backup", tmp_path / "backup.db").stdout
    assert len(call("log", "export").stdout.splitlines()) == len(LESSON) + 1
    assert "Nothing was deleted" in call("log", "purge", "--class-group", "5-Rowan", "--yes", code=2).stderr
    call("log", "purge", "--before", "2000-01-01", "--yes", code=2)
    assert "1 session deleted" in call("log", "purge", "--all", "--yes").stdout
    assert "no session" in call("sessions").stdout
    (tmp_path / "other").mkdir()
    (tmp_path / "backup.db").rename(tmp_path / "other" / "sessions.db")
    assert "1 new" in call("log", "merge", tmp_path / "other" / "sessions.db").stdout
    assert home.exists()


def test_the_review_takes_single_keys_in_a_terminal(home: Path) -> None:
    """Drop the unsure mark, take the earlier phase, confirm the near miss, keep the rest: four keys.

    A stray key changes nothing, Esc goes back from a question, and each change is said.
    """
    master, terminal = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-m", "companion", "review"],
        stdin=terminal,
        stdout=terminal,
        stderr=terminal,
        close_fds=True,
        env=os.environ | {"COMPANION_HOME": str(home), "TERM": "dumb", "COLUMNS": "200"},
    )
    os.close(terminal)
    shown = _Shown(master)
    for key, asked, said in (
        ("x", "reminder", "“x” does nothing here"),
        ("d", "reminder", "dropped · 2 praises, 0 reminders"),
        ("b", "work time", "in arrival now"),
        ("c", "near miss", "it was said: praise (table one)"),
        ("f", "arrival", "Esc back"),
    ):
        assert asked in shown.until("q stop")
        _press(master, key)
        shown.until(said)
    _press(master, "x")
    shown.until("“x” does nothing here")
    _press(master, "\x1b")
    shown.until("as it was")
    shown.until("q stop")
    _press(master, "k")
    assert "margin +3: Green row" in shown.until("from a margin")
    process.wait(timeout=30)
    os.close(master)
    with open_log(home / "sessions.db") as log:
        session = log.find()
    assert (session.praise, session.reminder) == (3, 0)
    assert [mark.phase for mark in session.standing] == ["arrival", "arrival", "work time"]


def test_keys_mean_the_same_on_the_page_and_in_the_terminal() -> None:
    """Each button of the page with a key has the one of the common table."""
    page = files("companion.pages").joinpath("templates", "review.html").read_text(encoding="utf-8")
    found = dict(re.findall(r'parts\.button\(path, "([a-z-]+)", .*?key="([A-Z ]+)"', page))
    assert found == {
        "keep": ReviewKey.KEEP.upper(),
        "drop": ReviewKey.DROP.upper(),
        "flip": ReviewKey.KIND.upper(),
        "earlier": ReviewKey.BEFORE.upper(),
        "restore": ReviewKey.KIND.upper(),
        "dismiss": f"{ReviewKey.KEEP} {ReviewKey.DROP}".upper(),
        "keep-rest": ReviewKey.ACCEPT.upper(),
        "undo": ReviewKey.UNDO.upper(),
    }
    assert f'"{ReviewKey.KIND}{ReviewKey.REMINDER}"[loop.index0]'.upper() in page.upper()


def _press(master: int, key: str) -> None:
    """Press `key` once the program listens for single keys: what is typed before is thrown away."""
    while termios.tcgetattr(master)[3] & termios.ICANON:
        time.sleep(0.01)
    os.write(master, key.encode())


class _Shown:
    """What a terminal shows, read bit by bit."""

    def __init__(self, master: int) -> None:
        self._master = master
        self._left = ""

    def until(self, end: str) -> str:
        """Return what is shown next, up to `end`."""
        deadline = time.monotonic() + 60
        while end not in self._left:
            assert select.select([self._master], [], [], max(0, deadline - time.monotonic()))[0], self._left
            self._left += os.read(self._master, 4096).decode(errors="replace")
        shown, _, self._left = self._left.partition(end)
        return shown + end
