"""Names and free text with anything in them: kept as they are, and harmless wherever they are shown."""

import os
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st
from playwright.sync_api import Page, expect

from companion.commands.terminal import shown
from companion.lesson import event as ev
from companion.log.store import open_log
from companion.paths import Home
from tests.pages.lessons import BODIES, CLOSE, NOTE, write_lesson

PLAIN = "\"4\" <b>Hazel</b> & 'Co' [red]x[/red] {{ 1 }} =1+1"
ODD = f"{PLAIN} \u05d0\u05d1\u200f \u202eabc 🌱 \x1b[2J\x1b]0;t\x07 \x9b1m"
LONG = "조용히 🌱 <i>" * 1_000


@pytest.fixture
def session(home: Home) -> str:
    """Write a lesson with odd texts in every field that takes some."""
    return write_lesson(
        home.log,
        *BODIES,
        NOTE,
        ev.TeacherViewed(LONG),
        ev.CarryOverWritten(ODD),
        CLOSE,
        ev.SessionSettled(),
        class_group=ODD,
    ).id


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


@pytest.mark.parametrize("words", ["sessions", "review", "note", "log export", "log purge --all"])
def test_a_terminal_gets_no_control_character(home: Home, session: str, words: str) -> None:
    """They are shown as signs for themselves; brackets are no markup there either."""
    assert session
    command = [sys.executable, "-m", "companion", "--home", str(home.folder), *words.split()]
    told = subprocess.run(
        command, capture_output=True, input=b"n\n", check=False, env={**os.environ, "COLUMNS": "400"}
    )
    said = told.stdout.decode()
    assert b"Traceback" not in told.stderr
    assert len(said) > 100, told.stderr
    assert words == "review" or "[red]x[/red]" in said
    assert not {*said} & {"\x07", "\x1b", "\x9b", "\u202e"}, said


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
