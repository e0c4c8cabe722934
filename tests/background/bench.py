"""How long a command takes to reach the running companion: `python -m tests.background.bench`."""

import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from companion.background.control import ControlServer
from companion.paths import Home
from tests.commands.test_quick import COMMANDS, answer

TIMES = 7


def main() -> None:
    """Print the median of each command in seconds, and its ratio to that of `--version`."""
    with tempfile.TemporaryDirectory() as folder:
        home = Home(Path(folder))
        server = ControlServer(home.control, answer)
        version_s = _median_s("--version")
        print(f"{'--version':<14} {version_s:.2f} s")
        for command in COMMANDS:
            taken_s = _median_s("--home", folder, *command.split())
            print(f"{command:<14} {taken_s:.2f} s, ratio {taken_s / version_s:.1f}")
        server.close()


def _median_s(*words: str) -> float:
    taken = []
    for _ in range(TIMES):
        began_s = time.perf_counter()
        subprocess.run([sys.executable, "-m", "companion", *words], check=True, capture_output=True)
        taken.append(time.perf_counter() - began_s)
    return statistics.median(taken)


if __name__ == "__main__":
    main()
