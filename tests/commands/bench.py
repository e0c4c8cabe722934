"""How long commands take after one and after five school years: `python -m tests.commands.bench`.

Milliseconds of the processor, the least of several times; those of `--version` are the interpreter's start
and the imports that every command needs.
"""

import os
import subprocess
import sys
import tempfile
from collections.abc import Mapping
from pathlib import Path

from companion.bench.school_years import fill
from companion.clock import ComputerClock
from companion.paths import Home
from tests.pages.bench import SESSIONS_A_YEAR, STARTER
from tests.pages.days import whole_day

TIMES = 3
COMMANDS = (
    "history --all",
    "history --all --since 2000-01-01",
    "history 2-Rowan",
    "history 2-Rowan --since 2000-01-01",
    "sessions",
    "sessions --class-group 2-Rowan",
    "promises",
    "status",
    "note 2-Rowan",
    "note --today",
    "timetable",
    "privacy",
)
BY_NATURE = (
    "sessions --all",
    "promises --all",
    "log rebuild",
    *(f"export {{}} --format {form}" for form in ("csv", "jsonl", "parquet")),
)
"""They tell of every lesson, so their time is that of the lessons."""


def main(years: int = 5) -> None:
    """Print the processor's milliseconds of each command after one year and after `years`, and the growth."""
    one, many = _measured(SESSIONS_A_YEAR), _measured(years * SESSIONS_A_YEAR)
    print(f"{'processor, ms':38} {'1 year':>7} {years:>2} years  growth   without --version")
    for command in one:
        before, after, none = one[command], many[command], many["--version"]
        print(f"{command:38} {before:7.0f} {after:8.0f}  {after / before:6.2f} {after - none:12.0f}")


def _measured(sessions: int) -> Mapping[str, float]:
    with tempfile.TemporaryDirectory() as folder:
        home = Home(Path(folder) / "home").create()
        fill(home.log, sessions)
        home.settings.write_text(STARTER.read_text(encoding="utf-8"), encoding="utf-8")
        whole_day(home.log, ComputerClock().wall().replace(hour=0, minute=30))
        return {
            command: min(_cpu_ms(home, command.format(f"{folder}/{at}")) for at in range(_times(command)))
            for command in ("--version", *COMMANDS, *BY_NATURE)
        }


def _times(command: str) -> int:
    return 1 if command in BY_NATURE else TIMES


def _cpu_ms(home: Home, command: str) -> float:
    words = [sys.executable, "-m", "companion", "--home", str(home.folder), *command.split()]
    with subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as process:
        _, _, spent = os.wait4(process.pid, 0)
        process.returncode = 0
    return 1000 * (spent.ru_utime + spent.ru_stime)


if __name__ == "__main__":
    main(int(sys.argv[1]) if sys.argv[1:] else 5)
