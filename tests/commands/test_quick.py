"""Commands to the running companion are quick: they import none of what only it needs."""

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from companion.background.control import ControlServer, Message
from companion.bench.school_years import fill
from companion.paths import Home

HEAVY = {
    "numpy",
    "scipy",
    "sklearn",
    "onnxruntime",
    "pydantic",
    "uvicorn",
    "starlette",
    "jinja2",
    "sqlite_utils",
    "sounddevice",
    "pynput",
    "rich",
    "filelock",
}
COMMANDS = (
    "status",
    "mark praise",
    "phase",
    "undo",
    "jot other",
    "pause",
    "resume",
    "open 4-Hazel",
    "close",
)
PROGRAM = """
import sys
from companion.cli import cli
from companion.paths import Home
for words in sys.argv[2:]:
    cli(["--home", sys.argv[1], *words.split()], prog_name="companion", standalone_mode=False)
print("IMPORTED", *sorted({name.partition(".")[0] for name in sys.modules}))
"""


def answer(message: Message) -> Message:
    """Answer as a companion does in whose lesson all goes well."""
    if message["do"] == "status":
        return {"session": "4-Hazel", "microphone": "open, level -40 dBFS", "trouble": "none"}
    if message["do"] == "microphone":
        return {"listening": "on", "level_dbfs": -40.0, "trouble": "none"}
    return {
        "class_group": "4-Hazel",
        "phase": "arrival",
        "phases": ["arrival"],
        "praise": 1,
        "reminder": 0,
        "margin": 1,
        "seq": 3,
        "recorded": 1,
        "undone": "the praise in arrival, 00:12",
        "caution": "",
        "paused": False,
    }


@pytest.fixture
def home(tmp_path: Path) -> Iterator[Home]:
    """Give a home where something answers as a companion does."""
    home = Home(tmp_path)
    server = ControlServer(home.control, answer)
    yield home
    server.close()


def imported_by(home: Path, *commands: str) -> set[str]:
    """Return what a process has imported that gave these commands one after the other."""
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, str(home), *commands],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return set(done.stdout.splitlines()[-1].split()[1:])


def test_a_command_to_the_running_companion_imports_nothing_heavy(home: Home) -> None:
    """Neither arrays nor a web server, validation, database or lock: it asks, and prints the answer."""
    imported = imported_by(home.folder, *COMMANDS)
    assert "click" in imported
    assert not imported & HEAVY


def test_a_command_that_reads_the_log_imports_no_arrays(tmp_path: Path) -> None:
    """Lists, promises and notes are told without what only statistics and sound need."""
    fill(tmp_path / "sessions.db", 2)
    imported = imported_by(tmp_path, "sessions --all", "promises --all", "note")
    assert "sqlite_utils" in imported
    assert not imported & {"numpy", "onnxruntime", "uvicorn", "duckdb"}
