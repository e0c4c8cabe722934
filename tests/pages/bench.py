"""How long each page takes with one and with five school years in the log: `python -m tests.pages.bench`."""

import statistics
import sys
import tempfile
import time
from collections.abc import Mapping
from pathlib import Path

import httpx

from companion.bench.school_years import fill
from companion.clock import ComputerClock
from companion.pages.port import LogPort
from companion.pages.serve import PageServer
from companion.paths import Home
from tests.pages.days import whole_day
from tests.pages.lessons import BODIES, write_lesson

SESSIONS_A_YEAR, TIMES = 1_400, 20
STARTER = Path(__file__).parents[2] / "companion" / "settings" / "starter.toml"


def main(years: int = 5) -> None:
    """Print the median of each page in milliseconds after one year and after `years`, and the growth."""
    one, many = measured(SESSIONS_A_YEAR), measured(years * SESSIONS_A_YEAR)
    print(f"{'page':34} {'1 year':>9} {years:>3} years   growth")
    for page, (name, spent) in zip(one, many.items(), strict=True):
        print(f"{name:34} {one[page]:6.1f} ms {spent:6.1f} ms   {spent / one[page]:6.2f}")


def measured(sessions: int) -> Mapping[str, float]:
    """Return the median time of each page with so many sessions in the log."""
    with tempfile.TemporaryDirectory() as folder:
        home, clock = Home(Path(folder)).create(), ComputerClock().wall
        fill(home.log, sessions)
        home.settings.write_text(STARTER.read_text(encoding="utf-8"), encoding="utf-8")
        whole_day(home.log, clock().replace(hour=0, minute=30))
        closed, running = write_lesson(home.log).id, write_lesson(home.log, *BODIES).id
        paths = {
            path: path
            for path in ("/", "/next", "/setup", "/practice", "/history/levels", "/notes", "/between")
        }
        paths |= {
            f"/history{query}": f"/history{query}" for query in ("", "?weeks=40", "?class_group=2-Rowan")
        }
        paths["/live/…"] = f"/live/{running}"
        paths |= {f"/{page}/…": f"/{page}/{closed}" for page in ("review", "reflection", "note", "private")}
        server = PageServer(home, LogPort(home.log, clock), clock).start()
        with httpx.Client(base_url=server.base, trust_env=False, timeout=60) as client:
            spent = {
                name: statistics.median(_spent_ms(client, path) for _ in range(TIMES))
                for name, path in paths.items()
            }
        server.stop()
    return spent


def _spent_ms(client: httpx.Client, path: str) -> float:
    begun = time.perf_counter()
    client.get(path).raise_for_status()
    return 1000 * (time.perf_counter() - begun)


if __name__ == "__main__":
    main(int(sys.argv[1]) if sys.argv[1:] else 5)
