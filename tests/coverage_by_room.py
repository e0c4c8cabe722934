"""Prints how much of each room its own tests enter.

Only rooms whose tests need neither device nor browser nor another process, and only a few examples of each
property: before Python 3.12 measuring costs as much as the tests themselves, and so it is a run of its own.

Usage: python -m tests.coverage_by_room [ROOM …]
"""

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

ROOMS = ("lesson", "log", "settings", "recording", "weeks", "numerics", "models")
TOP = Path(__file__).parents[1]


def main(rooms: tuple[str, ...]) -> int:
    """Run the tests of `rooms`, print the table, and return the exit code."""
    with tempfile.TemporaryDirectory() as folder:
        report = Path(folder) / "coverage.json"
        kept = os.environ | {"COVERAGE_FILE": str(Path(folder) / "coverage")}
        measured = [f"--cov=companion/{room}" for room in rooms]
        tests = [f"tests/{room}" for room in rooms]
        command = [sys.executable, "-m", "pytest", "-q", "-n", "2", "--hypothesis-profile=few", *measured]
        ran = subprocess.run(
            [*command, f"--cov-report=json:{report}", *tests], cwd=TOP, env=kept, check=False
        )
        files = json.loads(report.read_text(encoding="utf-8"))["files"] if report.exists() else {}
    for room in rooms:
        print(f"{room + '/':<12}{share_of(files, room):6.1f} % of its statements")
    return ran.returncode


def share_of(files: dict[str, dict[str, dict[str, int]]], room: str) -> float:
    """Return the percentage of a room's statements that were entered. files: as coverage's JSON has them."""
    of_room = [file["summary"] for path, file in files.items() if Path(path).parts[:2] == ("companion", room)]
    statements = sum(summary["num_statements"] for summary in of_room)
    return 100 * sum(summary["covered_lines"] for summary in of_room) / statements if statements else 0.0


if __name__ == "__main__":
    sys.exit(main(tuple(sys.argv[1:]) or ROOMS))
