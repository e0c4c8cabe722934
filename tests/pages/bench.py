"""How long each page takes with five school years in the log: `python -m tests.pages.bench`."""

import statistics
import tempfile
import time
from pathlib import Path

import httpx

from companion.bench.school_years import fill
from companion.clock import ComputerClock
from companion.pages.port import LogPort
from companion.pages.serve import PageServer
from companion.paths import Home
from tests.pages.days import whole_day
from tests.pages.lessons import BODIES, write_lesson

SESSIONS, TIMES = 7_000, 20
STARTER = Path(__file__).parents[2] / "companion" / "settings" / "starter.toml"


def main() -> None:
    """Print median and worst of each page in milliseconds, from the request to the last byte."""
    with tempfile.TemporaryDirectory() as folder:
        home, clock = Home(Path(folder)).create(), ComputerClock().wall
        fill(home.log, SESSIONS)
        home.settings.write_text(STARTER.read_text(encoding="utf-8"), encoding="utf-8")
        whole_day(home.log, clock().replace(hour=0, minute=30))
        closed, running = write_lesson(home.log).id, write_lesson(home.log, *BODIES).id
        paths = [
            "/",
            f"/live/{running}",
            "/next",
            "/notes",
            "/between",
            "/setup",
            "/history",
            "/history?weeks=40",
            "/history?weeks=",
        ]
        paths += [f"/{page}/{closed}" for page in ("review", "reflection", "note", "private")]
        server = PageServer(home, LogPort(home.log, clock), clock).start()
        with httpx.Client(base_url=server.base, trust_env=False) as client:
            for path in paths:
                spent = [_spent_ms(client, path) for _ in range(TIMES)]
                print(f"{path:40} median {statistics.median(spent):6.1f} ms, worst {max(spent):6.1f} ms")
        server.stop()


def _spent_ms(client: httpx.Client, path: str) -> float:
    begun = time.perf_counter()
    client.get(path).raise_for_status()
    return 1000 * (time.perf_counter() - begun)


if __name__ == "__main__":
    main()
