"""A night's feeding of every parser: python -m tests.fuzz --cases 100000."""

import argparse
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.fuzz.feed import feed
from tests.fuzz.parsers import PARSERS


def main() -> None:
    """Feed each parser, and print how many cases it was given."""
    wanted = argparse.ArgumentParser(description=__doc__)
    wanted.add_argument("--cases", type=int, default=100_000, help="cases for the quickest parsers")
    wanted.add_argument("--only", choices=sorted(PARSERS), help="one parser alone")
    chosen = wanted.parse_args()
    total = 0
    for name in [chosen.only] if chosen.only else PARSERS:
        with TemporaryDirectory() as folder:
            told = feed(name, chosen.cases, Path(folder))
        total += told.cases
        print(told, flush=True)
    print(f"{total} cases")


if __name__ == "__main__":
    main()
