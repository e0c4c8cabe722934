"""A log read from outside, with nothing but Python: praise by class group and phase.

Usage: python tests/examples/read_log.py SESSIONS.DB
"""

import json
import sqlite3
import sys
from collections import Counter
from contextlib import closing

EVENTS = "SELECT session, kind, body FROM event ORDER BY session, seq"


def praise(path: str) -> Counter[tuple[str, str]]:
    """Count the marks as they were made; DEVELOPERS.md says where review and undo would come in."""
    group, phase = "", ""
    count: Counter[tuple[str, str]] = Counter()
    # Read only: a lesson may be going on.
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as log:
        for _, kind, text in log.execute(EVENTS):
            body = json.loads(text)
            if kind == "session opened":
                group = body["class_group"]
            elif kind == "phase began":
                phase = body["phase"]
            elif kind == "mark made" and body["kind"] == "praise":
                count[group, phase] += 1
    return count


if __name__ == "__main__":
    for (group, phase), marks in praise(sys.argv[1]).items():
        print(f"{group}, {phase}: {marks}")
