"""Starts the companion again after a crash, where the system itself does not.

As `python -m companion.background.again`, with the options of `companion`, in place of `companion run`.
"""

import subprocess
import sys
import time

PAUSE_S = 5.0
"""From a crash to the next start."""
ENDED_IN_ORDER = (0, 2)
"""Exit statuses after which nothing is started again: told to end, or a trouble for a person to mend."""


def main(command: list[str], pause_s: float = PAUSE_S) -> int:
    """Run `command` until it ends in order, and return its status."""
    while True:
        status = subprocess.run(command, check=False).returncode  # noqa: S603 - our own program
        if status in ENDED_IN_ORDER:
            return status
        time.sleep(pause_s)


if __name__ == "__main__":
    sys.exit(main([sys.executable, "-m", "companion", *sys.argv[1:], "run"]))
