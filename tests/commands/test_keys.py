"""`companion keys`, with real keys on a real screen."""

import os
import re
import subprocess
import sys
import threading
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.rig import Screen

SETTINGS = """# Mine.
[[plans]]
name = "garden"
phases = [{ name = "arrival", minutes = 5 }]

[school]
tables = ["birch"]

[gestures]
hold_ms = 2500   # wide enough for a busy machine, on which a tap may seem long

[[keys]]
press = "f8"   # the old one
does = "undo"
"""


class Terminal:
    """A running command whose output can be waited for."""

    def __init__(self, process: "subprocess.Popen[str]") -> None:
        self.process = process
        self.text = ""

    def wait_for(self, pattern: str) -> None:
        """Read lines until one matches `pattern`."""
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.text += line
            if re.search(pattern, line):
                return
        raise AssertionError(f"no '{pattern}' in:\n{self.text}")


@contextmanager
def running(home: Path, *words: str) -> Iterator[Terminal]:
    """Run `companion keys` in `home`."""
    process = subprocess.Popen(
        [sys.executable, "-u", "-m", "companion", "--home", str(home), "keys", *words],
        env=dict(os.environ),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    guard = threading.Timer(60, process.kill)
    guard.start()
    try:
        yield Terminal(process)
    finally:
        guard.cancel()
        process.kill()
        process.communicate()


def run(home: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """Run `companion keys` to its end."""
    command = [sys.executable, "-m", "companion", "--home", str(home), "keys", *words]
    return subprocess.run(command, capture_output=True, text=True, check=False, timeout=60)


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """Give the test a home with settings."""
    (tmp_path / "companion.toml").write_text(SETTINGS)
    return tmp_path


def test_it_shows_what_keys_are_called(home: Path, screen: Screen) -> None:
    """Bindings are listed, then each pressed key is named, once however long it is held."""
    with running(home) as terminal:
        terminal.wait_for("f8 +undo")
        terminal.wait_for("Press a key")
        screen.tap("Prior", held_s=0.5)
        screen.down("ctrl", "alt", "k")
        screen.up("k", "alt", "ctrl")
        terminal.wait_for(r"^  ctrl\+alt\+k$")
        screen.tap("XF86Back")
        terminal.wait_for(r"^  code_\d+$")
    assert terminal.text.count("page_up") == 1


def test_a_pressed_button_is_bound(home: Path, screen: Screen) -> None:
    """A refused and a taken button are explained and asked for again; the good one lands in the file."""
    with running(home, "--for", "praise", "--table", "birch") as terminal:
        terminal.wait_for("Press the button that you want for praise")
        screen.tap("p")
        terminal.wait_for("'p' is a plain character")
        terminal.wait_for("Press the button")
        screen.tap("F8")
        terminal.wait_for("already for undo")
        terminal.wait_for("Press the button")
        screen.down("Next")
        terminal.wait_for("Bound: page_down hold for praise")
        assert terminal.process.wait(20) == 0
    text = (home / "companion.toml").read_text()
    assert text.startswith(SETTINGS)
    added = tomllib.loads(text[len(SETTINGS) :])
    assert added == {"keys": [{"press": "page_down hold", "does": "praise", "table": "birch"}]}


def test_a_button_that_starts_and_ends_the_show_is_one(home: Path, screen: Screen) -> None:
    """A button that sends F5 and Esc in turn is pressed once more, and bound with both keys."""
    with running(home, "--for", "reminder") as terminal:
        terminal.wait_for("Press the button")
        screen.down("F5")
        terminal.wait_for("once more")
        screen.up("F5")
        screen.tap("Escape")
        terminal.wait_for("Bound: esc/f5 hold for reminder")


def test_scripts_bind_list_and_remove(home: Path) -> None:
    """Without a screen a key is bound, listed and taken away by plain options; comments stay."""
    assert "f9 double" in run(home, "--for", "next phase", "--press", "F9 double").stdout
    assert run(home, "--list").stdout.splitlines()[1].split() == ["f9", "double", "next", "phase"]
    assert run(home, "--remove", "F9 Double", "--list").returncode == 0
    assert (home / "companion.toml").read_text().rstrip() == SETTINGS.rstrip()


@pytest.mark.parametrize(
    ("words", "reason"),
    [
        (["--for", "praise", "--press", "p"], "'p' is a plain character"),
        (["--for", "praise", "--press", "F8 tap"], "bound twice"),
        (["--for", "phase", "--press", "f9"], "say which"),
        (["--remove", "f9"], "'f9' is not bound"),
        (["--press", "f9"], "what the button is for"),
    ],
)
def test_what_can_not_be_done_is_said(home: Path, words: list[str], reason: str) -> None:
    """Each refusal is a plain sentence with a non-zero exit, and the file is as it was."""
    done = run(home, *words)
    assert done.returncode != 0
    assert reason in done.stderr
    assert "Traceback" not in done.stderr
    assert (home / "companion.toml").read_text() == SETTINGS


@pytest.mark.usefixtures("no_screen")
def test_without_a_screen_it_says_so(home: Path) -> None:
    """Where no key can be heard, the bindings are listed and the reason and remedy follow."""
    done = run(home)
    assert done.returncode == 2
    assert "undo" in done.stdout
    assert "no screen" in done.stderr
