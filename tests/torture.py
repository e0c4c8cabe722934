"""Kills the running companion at random moments: `python -m tests.torture --kills 200 --seed 1`.

The real program, marks by control line and page and phases by key commands, SIGKILL at random points of the
main process, and the log locked now and then. Afterwards every mark that was confirmed is in the log once,
and the fold of each session is that of its summary.
"""

import argparse
import random
import sqlite3
import sys
import tempfile
import threading
import time
from contextlib import closing, suppress
from pathlib import Path

from companion.background.control import Message, ask
from companion.errors import CompanionError
from companion.lesson.fold import fold
from companion.log.store import open_log
from companion.log.summary import summary_of
from tests.running import Companion
from tests.school_day import SETTINGS

ACTIONS, SHARES = ("praise", "reminder", "next phase", "undo"), (6, 3, 1, 1)
MOST_STEPS = 12
"""Steps that are asked for in one life at most."""
KILLED_WITHIN_S = 0.06
"""The kill comes at a random moment so long after the last step was asked for."""
LOCKED_S, LOCKED_SHARE = 0.3, 0.2
"""For how long another program holds the log, and in which share of the lives."""


class Torture:
    """One companion that is killed again and again, and what it has confirmed."""

    def __init__(self, folder: Path, seed: int) -> None:
        """Begin in a fresh home."""
        self._companion = Companion(folder, SETTINGS)
        self._chance = random.Random(seed)
        self.confirmed: list[tuple[str, int]] = []
        """Session and number of the event of each mark that was confirmed."""
        self.unconfirmed = 0

    def run(self, kills: int) -> None:
        """Kill it `kills` times; start it a last time, so that everything that waits is taken up."""
        for number in range(kills):
            self._companion.start()
            self._live(number)
        self._companion.start()
        status = self._companion.end()
        assert status == 0, f"the companion ended with {status}"

    def _live(self, number: int) -> None:
        """Ask for marks, now and then for another class or phase, and kill it in the midst of the last."""
        opening: Message = {"do": "open", "class_group": f"{number}-Hazel", "plan": None, "room": ""}
        actions = self._chance.choices(ACTIONS, SHARES, k=self._chance.randint(1, MOST_STEPS))
        steps: list[Message] = [{"do": "command", "action": action} for action in actions]
        if number % 5 == 0:
            steps.insert(0, opening)
        kill = threading.Timer(self._chance.uniform(0, KILLED_WITHIN_S), self._companion.kill)
        lock = threading.Thread(target=self._lock)
        if self._chance.random() < LOCKED_SHARE:
            lock.start()
        for step in steps:
            if step is steps[-1]:
                kill.start()
            try:
                told = ask(self._companion.home.control, step)
            except CompanionError:
                self.unconfirmed += 1
            else:
                if step.get("action") in ("praise", "reminder"):
                    self.confirmed.append((told["session"], told["seq"]))
        kill.join()
        if lock.ident is not None:
            lock.join()

    def check(self) -> dict[str, int]:
        """Return what was found; lost and doubled are to be 0."""
        path = self._companion.home.log
        with open_log(path) as log, log.reading() as db:
            made = {
                (row["session"], row["seq"])
                for row in db.query("SELECT session, seq FROM event WHERE kind = 'mark made'")
            }
            numbers = db.query(
                "SELECT session, count(*) AS events, max(seq) AS newest FROM event GROUP BY session"
            )
            gaps = sum(row["events"] != row["newest"] for row in numbers)
            summaries = log.summaries()
            wrong = sum(summary_of(fold(log.events(one.session))) != one for one in summaries)
        return {
            "confirmed": len(self.confirmed),
            "unconfirmed": self.unconfirmed,
            "sessions": len(summaries),
            "lost": sum(one not in made for one in self.confirmed),
            "more than asked for": max(0, len(made) - len(self.confirmed) - self.unconfirmed),
            "gaps": gaps,
            "wrong summaries": wrong,
        }

    def _lock(self) -> None:
        """Hold the log for a moment, as another program does that writes."""
        with closing(sqlite3.connect(self._companion.home.log, isolation_level=None, timeout=1)) as db:
            with suppress(sqlite3.OperationalError):
                db.execute("BEGIN IMMEDIATE")
            time.sleep(LOCKED_S)


def main() -> int:
    """Torture as the options say; print what was found, and fail if anything was lost."""
    parser = argparse.ArgumentParser(prog="python -m tests.torture")
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--home", type=Path, help="folder on the disk to be used; by default a temporary one")
    wanted = parser.parse_args()
    with tempfile.TemporaryDirectory(dir=wanted.home) as folder:
        torture = Torture(Path(folder) / "home", wanted.seed)
        torture.run(wanted.kills)
        found = torture.check()
    print(f"{wanted.kills} kills, seed {wanted.seed}:", ", ".join(f"{what} {n}" for what, n in found.items()))
    return int(any(found[what] for what in ("lost", "more than asked for", "gaps", "wrong summaries")))


if __name__ == "__main__":
    sys.exit(main())
