"""Kills the running companion at random moments: `python -m tests.torture --kills 200 --seed 1`."""

import argparse
import os
import sys
import time

from tests.torture.beside import torture_beside
from tests.torture.ledger import MUST_BE_NONE
from tests.torture.torture import ENDED_IN_PEACE


def main() -> int:
    """Torture as the options say; print what was found, and fail if anything was lost."""
    parser = argparse.ArgumentParser(prog="python -m tests.torture")
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument(
        "--home", help="tmpfs or loop (a small disk of its own; only root can mount it), or a folder"
    )
    parser.add_argument("--peace", type=float, default=ENDED_IN_PEACE, help="share of lives ended in order")
    parser.add_argument("--jobs", type=int, default=1, help="how many companions live beside each other")
    wanted = parser.parse_args()
    began_s = time.monotonic()
    found = torture_beside(wanted.jobs, wanted.kills, wanted.seed, wanted.home, wanted.peace)
    took_s, processor_s = time.monotonic() - began_s, sum(os.times()[:4])
    print(f"{wanted.kills} lives, seed {wanted.seed}, {took_s:.0f} s, {processor_s:.0f} s of the processor:")
    for what, number in sorted(found.items()):
        print(f"  {what:28} {number}")
    bad = {what: found[what] for what in MUST_BE_NONE if found[what]}
    print("Not as it must be:" if bad else "All is as it must be.", *bad)
    return int(bool(bad))


if __name__ == "__main__":
    sys.exit(main())
