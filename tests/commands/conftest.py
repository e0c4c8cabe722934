"""The command line as its user runs it: a process of its own with a home of its own."""

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner

from companion.cli import cli
from companion.errors import CompanionError

Run = Callable[..., subprocess.CompletedProcess[str]]
"""Runs `companion ARGS…`, expecting the status `code` (None: any), and gives back what it said."""


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


@pytest.fixture
def call(tmp_path: Path) -> Run:
    """Return what does as `run` does, but in this process and so in a moment."""

    def call(
        *args: str | Path, code: int | None = 0, said: str | None = None, columns: int = 120
    ) -> subprocess.CompletedProcess[str]:
        words = [str(arg) for arg in args]
        runner = CliRunner(env={"COMPANION_HOME": str(tmp_path / "home"), "COLUMNS": str(columns)})
        done = runner.invoke(cli, words, input=said, prog_name="companion")
        status, stderr = done.exit_code, done.stderr
        match done.exception:
            case CompanionError() as error:
                status, stderr = error.exit_code, f"{stderr}{error}\n"
            case Exception() as error:
                raise error
        assert code is None or status == code, done.stdout + stderr
        return subprocess.CompletedProcess(words, status, done.stdout, stderr)

    return call
