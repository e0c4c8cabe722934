"""What the bundle starts: the companion's command line, and `-m module` as Python itself has it.

The companion starts parts of itself as `sys.executable -m companion…`; inside a bundle that is this program.
"""

import multiprocessing
import os
import runpy
import sys

from companion.cli import main

SEARCHED = "LD_LIBRARY_PATH"
"""Where Linux looks for libraries first; what the bundle itself needs is found by now."""


def leave_others_their_libraries() -> None:
    """Let a browser, and whatever else is started from here, find libraries as it would without a bundle."""
    before = os.environ.pop(f"{SEARCHED}_ORIG", None)
    os.environ.pop(SEARCHED, None)
    if before is not None:
        os.environ[SEARCHED] = before


if __name__ == "__main__":
    multiprocessing.freeze_support()
    if getattr(sys, "frozen", False):
        leave_others_their_libraries()
    if sys.argv[1:2] == ["-m"]:
        module, sys.argv = sys.argv[2], sys.argv[2:]
        runpy.run_module(module, run_name="__main__", alter_sys=True)
    else:
        main()
