"""How long each page takes with one and with five school years: `python -m tests.pages.bench [FOLDER]`.

The processor's time is that of pages and asking client together, which a busy computer hardly changes; of
each the least of several times counts. "loaded" is the very first look since the start, "changed" the first
one after a lesson, when nothing is remembered that still holds. FOLDER keeps the homes, for this and for
`tests.commands.bench`.
"""

import shutil
import sys
import tempfile
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import httpx

from companion.bench.school_rooms import make_drive, mondays
from companion.bench.school_years import fill
from companion.clock import ComputerClock
from companion.pages.port import LogPort
from companion.pages.serve import PageServer
from companion.paths import Home
from companion.school.ask import sum_up
from companion.school.gather import gather
from companion.school.store import store_of
from tests.pages.days import whole_day
from tests.pages.lessons import BODIES, write_lesson

YEARS = 5
SESSIONS_A_YEAR, TIMES, LESSONS, ROOMS = 1_260, 12, 3, 4
STARTER = Path(__file__).parents[2] / "companion" / "settings" / "starter.toml"


@dataclass(frozen=True, slots=True)
class Spent:
    """Milliseconds of one answer."""

    processor_ms: float
    wall_ms: float


@dataclass(frozen=True, slots=True)
class Looks:
    """What a page takes when it is looked at first, after each of some lessons, and again and again."""

    loaded: Spent
    changed: Sequence[Spent]
    again: Sequence[Spent]


def home_of(folder: Path, years: int) -> Home:
    """Return a home of so many school years and a day of today in `folder`, made if it is not there."""
    home = Home(folder / f"{years}-years")
    if not home.log.exists():
        home.create()
        fill(home.log, years * SESSIONS_A_YEAR)
        home.settings.write_text(STARTER.read_text(encoding="utf-8"), encoding="utf-8")
        whole_day(home.log, ComputerClock().wall().replace(hour=0, minute=30))
    return home


def main(kept: Path) -> None:
    """Print the least time of each page in milliseconds after one year and after `YEARS`, and the growth."""
    one, many = (measured(home_of(kept, years), years) for years in (1, YEARS))
    heads = f"{'1 year':>7} {YEARS:>2} years  growth  changed   loaded  {YEARS} years on the wall"
    print(f"{'processor, ms':34} {heads}")
    for page, answers in many.items():
        before, after = (min(a.processor_ms for a in spent[page].again) for spent in (one, many))
        changed = min(answer.processor_ms for answer in answers.changed)
        wall = min(answer.wall_ms for answer in answers.again)
        print(
            f"{page:34} {before:7.1f} {after:8.1f}  {after / before:6.2f}"
            f" {changed:8.1f} {answers.loaded.processor_ms:8.1f} {wall:8.1f}"
        )


def measured(kept: Home, years: int) -> Mapping[str, Looks]:
    """Return what each page takes, again and again, in a copy of a home, beside a school of as many years."""
    with tempfile.TemporaryDirectory() as folder:
        home, clock = Home(Path(shutil.copytree(kept.folder, f"{folder}/home"))), ComputerClock().wall
        drive = home.folder / "drive"
        shared = f'[school]\nshared = "{drive}"'
        settings = STARTER.read_text(encoding="utf-8").replace("[school]", shared, 1)
        home.settings.write_text(settings, encoding="utf-8")
        make_drive(drive, ROOMS, mondays(years))
        gather(drive, store_of(home, drive), clock().date())
        sum_up(store_of(home, drive))
        closed, running = write_lesson(home.log).id, write_lesson(home.log, *BODIES).id
        paths = {
            path: path
            for path in ("/", "/next", "/setup", "/practice", "/history/levels", "/history/sheet", "/notes")
        }
        queries = ("", "?weeks=40", "?weeks=", "?class_group=2-Rowan", "?class_group=2-Rowan&weeks=")
        paths |= {f"/history{query}": f"/history{query}" for query in queries}
        paths |= {path: path for path in ("/practice?weeks=", "/between", "/school", "/sheet/wall")}
        paths |= {f"/history/chart/{name}": f"/history/chart/{name}" for name in ("praise.svg", "phases.png")}
        paths["/live/…"] = f"/live/{running}"
        paths |= {f"/{page}/…": f"/{page}/{closed}" for page in ("review", "reflection", "note", "private")}
        server = PageServer(home, LogPort(home.log, clock), clock).start()
        with httpx.Client(base_url=server.base, trust_env=False, timeout=60) as client:
            # What every page needs once is loaded by one that is not looked at again.
            client.get("/kept").raise_for_status()
            spent = {name: _looks(client, path, home) for name, path in paths.items()}
        server.stop()
    return spent


def _looks(client: httpx.Client, path: str, home: Home) -> Looks:
    loaded, changed = _spent(client, path), []
    for _ in range(LESSONS):
        write_lesson(home.log, opened_at=ComputerClock().wall())
        changed.append(_spent(client, path))
    return Looks(loaded, changed, [_spent(client, path) for _ in range(TIMES)])


def _spent(client: httpx.Client, path: str) -> Spent:
    processor, wall = time.process_time(), time.perf_counter()
    client.get(path).raise_for_status()
    return Spent(1000 * (time.process_time() - processor), 1000 * (time.perf_counter() - wall))


if __name__ == "__main__":
    if sys.argv[1:]:
        main(Path(sys.argv[1]))
    else:
        with tempfile.TemporaryDirectory() as made:
            main(Path(made))
