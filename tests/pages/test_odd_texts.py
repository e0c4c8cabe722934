"""Names and free text with anything in them: kept as they are, and harmless wherever they are shown."""

import csv
import io
import os
import subprocess
import sys
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from playwright.sync_api import Page, expect

from companion.commands.terminal import shown
from companion.lesson import event as ev
from companion.lesson.mark import Kind
from companion.log.hand_out import FORMULA
from companion.log.store import open_log
from companion.paths import Home
from tests.pages.lessons import BODIES, CLOSE, NOTE, pressed, write_lesson

PLAIN = "\"4\" <b>Hazel</b> & 'Co' [red]x[/red] {{ 1 }} =1+1"
ODD = f"{PLAIN} \u05d0\u05d1\u200f \u202eabc 🌱 \x1b[2J\x1b]0;t\x07 \x9b1m"
FORMULAS = "=HYPERLINK(1)", "＠SUM(1)"
OBEYED = {"\x07", "\x1b", "\x9b", "\u202e"}
LONG = "조용히 🌱 <i>" * 1_000


@pytest.fixture
def session(home: Home) -> str:
    """Write a lesson with odd texts in every field that takes some."""
    return write_lesson(
        home.log,
        *BODIES,
        replace(NOTE, line=LONG),
        *(pressed(Kind.PRAISE, 40, routine=formula) for formula in FORMULAS),
        ev.TeacherViewed(LONG),
        ev.CarryOverWritten(ODD),
        CLOSE,
        ev.SessionSettled(),
        class_group=ODD,
    ).id


def told(home: Home, *words: str) -> str:
    """Return what a command prints, and nothing but that."""
    command = [sys.executable, "-m", "companion", "--home", str(home.folder), *words]
    done = subprocess.run(
        command, capture_output=True, input=b"n\n", check=False, env={**os.environ, "COLUMNS": "400"}
    )
    assert b"Traceback" not in done.stderr
    assert done.returncode in (0, 1), done.stderr
    return done.stdout.decode()


def test_they_are_kept_as_they_are(home: Home, session: str) -> None:
    """No letter of ten thousand is lost in the log."""
    with open_log(home.log) as log:
        found = log.session(session)
    assert (found.class_group, found.carry_over, found.teacher_view) == (ODD, ODD, LONG)


def test_pages_and_print_show_them_escaped(page: Page, session: str) -> None:
    """As text on every page, never as markup, and nothing runs."""
    for path in ("./", "private/{}", "note/{}", "history", "review/{}", "reflection/{}", "live/{}"):
        page.goto(path.format(session))
        assert page.locator("h1 b, td b, a b, main i").count() == 0, path
        expect(page.locator("body")).to_contain_text(PLAIN)


def test_a_printed_note_is_plain_text_in_any_browser(page: Page, home: Home, session: str) -> None:
    """A file that is opened without the companion: nothing in it runs, no letter is lost or turned around."""
    printed = home.folder / "note.html"
    told(home, "note", session, "--html", str(printed))
    assert not {*printed.read_text(encoding="utf-8")} & OBEYED
    page.goto(printed.as_uri())
    assert page.locator("h1 b, td b, a b, i").count() == 0
    expect(page.locator("body")).to_contain_text(PLAIN)
    assert page.locator("script").count() == 0


def test_what_is_copied_of_a_note_holds_signs_too(page: Page, session: str) -> None:
    """It is pasted into other programs."""
    page.goto("./")
    told = page.request.get(page.url + f"note/{session}/plain").text()
    assert "␛[2J" in told
    assert not {*told} & OBEYED


def test_no_cell_of_a_table_is_a_formula(home: Home, session: str) -> None:
    """Not even one that begins with the wide signs of Asian keyboards; ten thousand letters are all there."""
    assert session
    folder = home.folder / "tables"
    told(home, "export", str(folder), "--with-individual-notes")
    tables = [
        io.StringIO(table.read_text(encoding="utf-8-sig"), newline="") for table in folder.glob("*.csv")
    ]
    cells = [cell for table in tables for row in csv.reader(table) for cell in row]
    assert [cell for cell in cells if cell.startswith(FORMULA)] == []
    assert {*(f"'{formula}" for formula in FORMULAS), ODD, LONG} <= {*cells}


@pytest.mark.parametrize("words", ["sessions", "review", "note", "promises", "log export", "log purge --all"])
def test_a_terminal_gets_no_control_character(home: Home, session: str, words: str) -> None:
    """They are shown as signs for themselves; brackets are no markup there either."""
    assert session
    said = told(home, *words.split())
    assert len(said) > 60
    assert words == "review" or "[red]x[/red]" in said
    assert not {*said} & OBEYED, said


@given(st.text(alphabet=st.sampled_from("\x00\x07\x08\x1b\r\n\t[]0123;mKJAh?a🌱\u202e\x9b"), max_size=60))
def test_only_styles_are_left_of_what_a_terminal_obeys(text: str) -> None:
    """Whatever is written: no bell, no clearing, no title, no order of letters; newlines and tabs stay."""
    rest = shown(text)
    for own in ("\x1b[2K", "\x1b[1A", "\x1b[?25h", "\x1b[?25l"):
        rest = rest.replace(f"\r{own}", "").replace(own, "")
    assert not {*rest} & {*"\x00\x07\x08\r\u202e\x9b"}
    assert all(piece.lstrip("[0123456789;").startswith("m") for piece in rest.split("\x1b")[1:])
    assert rest.count("\n") == text.count("\n")


def test_text_without_any_is_untouched() -> None:
    """Letters of any script, emoji joined of several, tabs and lines."""
    assert shown("줄 א\t👩‍🌾\nß") == "줄 א\t👩‍🌾\nß"
