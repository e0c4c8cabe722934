"""The command line as its user runs it: a process of its own with a home of its own."""

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

Run = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture
def run(tmp_path: Path) -> Run:
    """Return a function that runs `companion ARGS…` and gives back its exit code and what it said."""

    def run(*args: str | Path, code: int = 0, said: str | None = None) -> subprocess.CompletedProcess[str]:
        done = subprocess.run(
            [sys.executable, "-m", "companion", *map(str, args)],
            capture_output=True,
            text=True,
            input=said,
            check=False,
            timeout=300,
            env=os.environ | {"COMPANION_HOME": str(tmp_path / "home"), "COLUMNS": "120"},
        )
        assert done.returncode == code, done.stdout + done.stderr
        assert "Traceback" not in done.stderr
        return done

    return run
