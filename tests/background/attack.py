"""A lesson while another program opens connections and says nothing, or says it slowly.

`python -m tests.background.attack` prints how long such connections live, and how long marks take meanwhile.
"""

import json
import re
import resource
import statistics
import tempfile
import time
from collections.abc import Callable
from contextlib import suppress
from multiprocessing import get_context
from multiprocessing.connection import Connection
from pathlib import Path

import httpx
import psutil
from ulid import ULID

from companion.log.store import open_log
from tests.background.siege import SLOW, Siege
from tests.running import Companion
from tests.school_day import SETTINGS

AT_ONCE = 500
"""So many slow connections are opened to each listener, and then kept open as far as it lets them."""
MARKS = 60
LASTS_S = 20.0
"""The attack goes on for at least so long: every limit of a listener ends some connections meanwhile."""
DESCRIPTORS = 8192
TRIES = 20
AGAIN_S = 0.05
"""So long after one wave of connections comes the next."""


class Hands:
    """The two ways in that an attack could stop: control line and page."""

    def __init__(self, companion: Companion) -> None:
        """Open a lesson, and its page."""
        self.companion = companion
        self._session = str(companion.ask(do="open", class_group="4-Hazel", plan=None, room="")["session"])
        self._client = httpx.Client(trust_env=False, timeout=60)
        first = self._client.get(companion.ask(do="pages", to="/")["address"], follow_redirects=True)
        self._client.base_url = first.url
        found = re.search(r"\?page=(\w+)", first.text)
        assert found
        self._token = found[1]
        self.made = self.cut = 0

    def by_control(self) -> None:
        """Make a mark as `companion mark praise` does."""
        self.companion.ask(do="command", action="praise")
        self.made += 1

    def by_page(self) -> None:
        """Press the button; a wish that is sent again is recorded once."""
        wish = {"request": str(ULID()), "do": "praise"}
        here = {"Sec-Fetch-Site": "same-origin"}
        to = f"live/{self._session}?page={self._token}"
        answer = self._insist(lambda: self._client.post(to, data=wish, headers=here))
        assert answer.status_code == 303, answer.text
        self.made += 1

    def look(self) -> None:
        """Load the page of the lesson."""
        answer = self._insist(lambda: self._client.get(f"live/{self._session}"))
        assert answer.status_code == 200

    def _insist(self, send: Callable[[], httpx.Response]) -> httpx.Response:
        """Send again, as a browser does, where the connection was cut among those of the attack."""
        for _ in range(TRIES):
            with suppress(httpx.TransportError):
                return send()
            self.cut += 1
        raise AssertionError("no answer from the pages")


def besiege(siege: Siege, line: Connection) -> None:
    """Keep slow connections open to a port until `line` says something; tell how long they lived.

    That all are open for the first time is told by `line` too. Each port has a process of its own: whoever
    waits for a connection to one sees late that those to the other were closed.
    """
    _let_open_many()
    siege.fill(AT_ONCE)
    line.send("open")
    while not line.poll():
        siege.fill(AT_ONCE)
        siege.look(AGAIN_S)
    line.send(siege.lived_s)


def main() -> None:
    """Print the figures before and during the attack."""
    _let_open_many()
    with tempfile.TemporaryDirectory() as folder:
        companion = Companion(Path(folder) / "home", SETTINGS)
        companion.start()
        try:
            ports = _ports(companion)
            for name, siege in (("control", Siege(ports[0], (b"",))), ("pages", Siege(ports[1], SLOW))):
                siege.fill(AT_ONCE)
                while siege.left:
                    siege.look(1.0)
                print(f"{len(siege.lived_s)} slow connections to {name}: {_spread(siege.lived_s)}")
            hands = Hands(companion)
            _measure("calm", hands, 0)
            context = get_context("fork")
            lines = []
            for siege in (Siege(ports[0], (b"", b"half")), Siege(ports[1], SLOW)):
                here, there = context.Pipe()
                context.Process(target=besiege, args=(siege, there), daemon=True).start()
                lines.append(here)
            assert [line.recv() for line in lines] == ["open", "open"]
            _measure("under attack", hands, LASTS_S)
            for name, line in zip(("control", "pages"), lines, strict=True):
                line.send("over")
                lived_s = line.recv()
                print(f"{len(lived_s)} connections to {name} were closed: {_spread(lived_s)}")
            with open_log(companion.home.log) as log:
                told = f"marks confirmed {hands.made}, in the log {log.find().praise}"
            print(f"{told}; requests to pages that were cut and sent again {hands.cut}")
        finally:
            companion.end()


def _ports(companion: Companion) -> tuple[int, int]:
    control = json.loads(companion.home.control.read_text())["port"]
    return control, json.loads((companion.home.run / "pages.json").read_text())["port"]


def _measure(when: str, hands: Hands, at_least_s: float) -> None:
    process, began_s = psutil.Process(hands.companion.process.pid), time.monotonic()
    before_s = sum(process.cpu_times()[:2])
    taken: dict[str, list[float]] = {"control": [], "page": [], "look": []}
    while len(taken["look"]) < MARKS or time.monotonic() - began_s < at_least_s:
        for name, do in (("control", hands.by_control), ("page", hands.by_page), ("look", hands.look)):
            taken[name].append(_taken_s(do))
    core = (sum(process.cpu_times()[:2]) - before_s) / (time.monotonic() - began_s)
    for name, taken_s in taken.items():
        ordered = sorted(taken_s)
        print(
            f"{when:13} {name:8} median {statistics.median(ordered) * 1000:6.1f} ms, "
            f"95 % {ordered[len(ordered) * 95 // 100] * 1000:6.1f} ms, longest {ordered[-1] * 1000:6.1f} ms"
        )
    print(f"{when:13} the companion takes {core:.0%} of a core, {process.num_fds()} descriptors")


def _taken_s(do: Callable[[], None]) -> float:
    began_s = time.perf_counter()
    do()
    return time.perf_counter() - began_s


def _spread(lived_s: list[float]) -> str:
    return f"median {statistics.median(lived_s):.2f} s, longest {max(lived_s):.2f} s"


def _let_open_many() -> None:
    _, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    resource.setrlimit(resource.RLIMIT_NOFILE, (min(hard, DESCRIPTORS), hard))


if __name__ == "__main__":
    main()
