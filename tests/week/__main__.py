"""A school's week, faster than real time, through the real parts: `python -m tests.week`."""

import argparse
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

from companion.paths import Home
from tests.week.timetable import FIRST, LAST, SHORT_DAY
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
    parser.add_argument("--short-day", action="store_true", help="the day of the early release alone")
    wanted = parser.parse_args()
    first, last = (SHORT_DAY, SHORT_DAY) if wanted.short_day else (FIRST, LAST)
    began_s = time.monotonic()
    print(f"{'':10}", *(f"{column:>{max(6, len(column))}}" for column in COLUMNS))
    sums: Counter[str] = Counter()
    told = 0
    with tempfile.TemporaryDirectory() as folder:
        week = Week(Home(Path(folder) / "home").create(), wanted.marks, first, last)
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
