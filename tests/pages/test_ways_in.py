"""How a browser is let in, and who is not: real browsers, another user of the computer."""

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from companion.clock import ComputerClock
from companion.lesson.session import Session
from companion.pages.port import LogPort
from companion.pages.serve import PageServer
from companion.paths import Home
from tests.pages.conftest import CHROMIUM
from tests.pages.lessons import BODIES, write_lesson
from tests.waiting import until

FIREFOX = shutil.which("firefox-esr") or shutil.which("firefox")
ELSEWHERE = """
import os, socket, sys
from pathlib import Path
if os.geteuid() == 0:
    "".encode("idna")  # imported while it can be
    os.setgroups([]), os.setgid(65534), os.setuid(65534)
found = []
for name in sys.argv[2:]:
    try:
        found.append(Path(name).read_bytes())
    except OSError:
        pass
port = int(sys.argv[1])
doors = ["/", "/enter", "/enter?token=", "/live", f"/{'0' * 32}/"]
for process in Path("/proc").glob("[0-9]*/cmdline"):
    try:
        words = process.read_bytes().decode(errors="replace").split(chr(0))
    except OSError:
        continue
    doors += [word[word.index("/", 8):] for word in words if word.startswith(f"http://127.0.0.1:{port}/")]
for door in doors:
    with socket.create_connection(("127.0.0.1", port)) as connection:
        connection.sendall(f"GET {door} HTTP/1.1\\r\\nHost: 127.0.0.1:{port}\\r\\n\\r\\n".encode())
        answer = connection.recv(65536)
    if not answer.startswith(b"HTTP/1.1 403 "):
        found.append(answer)
print(len(found))
"""


class Watched(LogPort):
    """The port over the log that remembers which sessions a page has shown."""

    def __init__(self, log: Path) -> None:
        super().__init__(log, ComputerClock().wall)
        self.shown: set[str] = set()

    def now_ms(self, session: Session) -> int:
        """Remember that the live page of `session` was asked for."""
        self.shown.add(session.id)
        return super().now_ms(session)


@pytest.fixture
def watched(home: Home) -> Iterator[tuple[PageServer, Watched]]:
    """Serve the pages over a log with a lesson in it."""
    port = Watched(home.log)
    server = PageServer(home, port, ComputerClock().wall).start()
    yield server, port
    server.stop()


def browser_on(address: str, name: str, folder: Path) -> list[str]:
    """Return the command line that opens `address` in a browser with a profile of its own."""
    if name == "chromium":
        assert CHROMIUM, "install the package chromium"
        flags = ["--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"]
        return [CHROMIUM, *flags, f"--user-data-dir={folder}", address]
    assert FIREFOX, "install the package firefox-esr"
    return [FIREFOX, "--headless", "--no-remote", "--profile", str(folder), address]


@pytest.mark.parametrize("name", ["chromium", "firefox-esr"])
def test_a_browser_gets_in_by_the_private_file(
    home: Home, watched: tuple[PageServer, Watched], tmp_path: Path, name: str
) -> None:
    """The browser that opens the companion's file shows the page; its command line holds no secret."""
    server, port = watched
    session = write_lesson(home.log, *BODIES)
    file = server.file(f"/live/{session.id}")
    (tmp_path / "profile").mkdir()
    command = browser_on(file.as_uri(), name, tmp_path / "profile")
    environment = {**os.environ, "HOME": str(tmp_path), "MOZ_DISABLE_CONTENT_SANDBOX": "1"}
    with (tmp_path / "said.txt").open("w") as said:
        browser = subprocess.Popen(command, env=environment, stdout=said, stderr=said, start_new_session=True)
        try:
            assert until(lambda: session.id in port.shown, limit_s=120), (tmp_path / "said.txt").read_text()
        finally:
            os.killpg(browser.pid, 9)
            browser.wait()
    assert not any(word in " ".join(command) for word in ("token", server.base.split("/")[3]))


def test_another_user_of_the_computer_gets_nothing(
    home: Home, watched: tuple[PageServer, Watched], tmp_path: Path
) -> None:
    """Neither by the files, nor by what command lines tell, nor by asking the port."""
    server, port = watched
    write_lesson(home.log, *BODIES)
    file = server.file("/")
    browser = subprocess.Popen([sys.executable, "-c", "input()", file.as_uri()], stdin=subprocess.PIPE)
    private = [home.log, home.run / "pages.json", file, home.control]
    if os.geteuid() != 0:
        # Nobody else can be become here: what keeps them out is looked at instead.
        assert all(path.stat().st_mode & 0o077 == 0 for path in (home.folder, home.run, home.log, file))
        private = []
    command = [sys.executable, "-c", ELSEWHERE, str(server.port), *map(str, private)]
    tmp_path.chmod(0o755)
    told = subprocess.run(command, capture_output=True, text=True, check=False, timeout=120)
    browser.communicate(b"\n")
    assert told.stdout.strip() == "0", told
    assert port.shown == set()
