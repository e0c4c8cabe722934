"""A school's week, faster than real time, through the real parts: `python -m tests.week`."""

import argparse
import sys
import tempfile
import time
from collections import Counter
from datetime import date
from pathlib import Path

from companion.paths import Home
from tests.week.timetable import FIRST, LAST
from tests.week.week import Week

COLUMNS = (
    "lessons", "said", "heard", "near", "deaf", "missed", "false", "helped",
    "keys", "clicks", "typed", "wrong phase", "lost",
)  # fmt: skip
MUST_BE_NONE = ("wrong phase", "lost")


def main() -> int:
    """Hold the week; print a line a day and the sums, and fail if anything was lost or in a wrong phase."""
    parser = argparse.ArgumentParser(prog="python -m tests.week", description=__doc__)
    parser.add_argument("--marks", type=int, default=3, help="marks by each way in each lesson")
    parser.add_argument("--first", type=date.fromisoformat, default=FIRST, help="as in 2026-10-30")
    parser.add_argument("--last", type=date.fromisoformat, default=LAST)
    wanted = parser.parse_args()
    began_s = time.monotonic()
    print(f"{'':10}", *(f"{column:>{max(6, len(column))}}" for column in COLUMNS))
    sums: Counter[str] = Counter()
    told = 0
    with tempfile.TemporaryDirectory() as folder:
        week = Week(Home(Path(folder) / "home").create(), wanted.marks, wanted.first, wanted.last)
        for day, figures in week.days():
            sums += figures
            _print(f"{day:%a %d %b}", figures)
            print(*(f"- {trouble}" for trouble in week.troubles[told:]), sep="\n", end="")
            told = len(week.troubles)
    _print("together", sums)
    print(f"{time.monotonic() - began_s:.0f} s")
    print(*(f"- {trouble}" for trouble in week.troubles[told:]), sep="\n", end="")
    deaf = sums["heard"] < sums["said"] / 2
    return int(deaf or bool(week.troubles) or any(sums[what] for what in MUST_BE_NONE))


def _print(name: str, figures: Counter[str]) -> None:
    print(f"{name:10}", *(f"{figures[column]:>{max(6, len(column))}}" for column in COLUMNS), flush=True)


if __name__ == "__main__":
    sys.exit(main())
