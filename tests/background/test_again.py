"""Starting the companion again after a crash."""

import sys
from pathlib import Path

from companion.background.again import main

COUNTING = """
import os, signal, sys
from pathlib import Path
runs = Path(sys.argv[1])
runs.write_text(runs.read_text() + "x" if runs.exists() else "x")
if len(runs.read_text()) < 3:
    os.kill(os.getpid(), signal.SIGKILL)
sys.exit(int(sys.argv[2]))
"""


def test_it_comes_back_after_each_crash_until_it_ends_in_order(tmp_path: Path) -> None:
    """Two crashes, and then an end that was asked for or that only a person can mend: no start more."""
    for status in (0, 2):
        runs = tmp_path / f"runs{status}"
        assert main([sys.executable, "-c", COUNTING, str(runs), str(status)], pause_s=0) == status
        assert runs.read_text() == "xxx"
