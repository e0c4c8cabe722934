"""What the bundle starts: the companion's command line, and `-m module` as Python itself has it.

The companion starts parts of itself as `sys.executable -m companion…`; inside a bundle that is this program.
"""

import multiprocessing
import runpy
import sys

from companion.cli import main

if __name__ == "__main__":
    multiprocessing.freeze_support()
    if sys.argv[1:2] == ["-m"]:
        module, sys.argv = sys.argv[2], sys.argv[2:]
        runpy.run_module(module, run_name="__main__", alter_sys=True)
    else:
        main()
