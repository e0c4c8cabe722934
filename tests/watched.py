"""Watches a program from outside, by strace: whom it asks or reaches, and what it writes where."""

import os
import re
import subprocess
import sys
from collections.abc import Iterator
from functools import partial
from pathlib import Path

import pytest

from tests.waiting import until

NETWORK = ("connect", "bind", "sendto", "sendmsg", "sendmmsg")
OPENING = ("open", "openat")
MAKING = (
    *("creat", "mkdir", "mkdirat", "mknod", "mknodat", "link", "linkat", "symlink", "symlinkat"),
    *("rename", "renameat", "renameat2"),
)
SILENCED_BY = ("CI", "GITHUB_ACTIONS", "ORT_RUNNING_UNIT_TESTS", "ORT_DISABLE_TELEMETRY")
"""Where one of these is set, a library keeps silent of itself; no teacher sets them."""
HOME_FOLDERS = ("XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_CACHE_HOME", "XDG_STATE_HOME")

_ADDRESS = re.compile(r'AF_INET6?\b.*?(?:htons\((\d+)\)).*?(?:inet_addr\(|inet_pton\(AF_INET6, )"([^"]+)"')
_LOOPBACK = re.compile(r"127\.|::1$|::ffff:127\.")
_NAME_SERVICE = 53, 5353, 5355
_RESOLVER = "io.systemd.Resolve"
_PATH = re.compile(r'(?:(?:AT_FDCWD|\d+)<([^>]*)>, )?"([^"]*)"')
_TO_WRITE = re.compile("O_WRONLY|O_RDWR|O_CREAT")
_OF_THE_SYSTEM = ("/dev/", "/proc/")


class Watch:
    """A fresh home for a program, and what was seen of all processes that were started with `prefix`."""

    def __init__(self, folder: Path) -> None:
        """Make the home in `folder`; nothing is watched yet."""
        self.home = folder / "fresh"
        self.companion = self.home / "companion"
        self.home.mkdir()
        self._traces = folder / "traces"
        self._traces.mkdir()

    @property
    def environment(self) -> dict[str, str]:
        """What the watched programs find: the fresh home, and nothing that silences a library."""
        left_out = (*SILENCED_BY, *HOME_FOLDERS)
        kept = {name: value for name, value in os.environ.items() if name not in left_out}
        return kept | {"HOME": str(self.home), "PYTHONDONTWRITEBYTECODE": "1", "COLUMNS": "120"}

    def prefix(self) -> list[str]:
        """Return the words that, before a command, have it and all its children watched."""
        trace = self._traces / f"{len(list(self._traces.iterdir()))}.txt"
        trace.touch()
        calls = ",".join((*NETWORK, *OPENING, *MAKING))
        options = ["-D", "-f", "-q", "-y", "-s", "4096", "--seccomp-bpf", "-e", f"trace={calls}"]
        return ["strace", *options, "-o", str(trace)]

    def run(self, *words: str | Path, code: int = 0) -> str:
        """Run `companion WORDS…` in the fresh home to its end; return what it said."""
        command = [sys.executable, "-m", "companion", "--home", str(self.companion), *map(str, words)]
        done = self.run_program(*command)
        assert done.returncode == code, done.stdout + done.stderr
        return done.stdout

    def run_program(self, *command: str) -> subprocess.CompletedProcess[str]:
        """Run any program to its end."""
        return subprocess.run(
            [*self.prefix(), *command],
            env=self.environment,
            capture_output=True,
            text=True,
            stdin=subprocess.DEVNULL,
            timeout=300,
            check=False,
        )

    def left(self) -> list[str]:
        """Return each look-up of a name, and each address beyond loopback that was bound or sent to."""
        return sorted({call for call in self._calls() if _leaves(call)})

    def strayed(self) -> list[str]:
        """Return each file that was made or opened for writing outside the companion's own folder."""
        written = {path for call in self._calls() for path in _written(call)}
        own = (str(self.companion), *_OF_THE_SYSTEM)
        return sorted(path for path in written if not path.startswith(own))

    def _calls(self) -> Iterator[str]:
        for trace in self._traces.iterdir():
            assert until(partial(_has_ended, trace)), f"{trace} does not end"
            for line in trace.read_text().splitlines():
                yield line.partition(" ")[2].strip()


def _has_ended(trace: Path) -> bool:
    """Whether the tracer, which ends after all that it watches, has written its last line."""
    return trace.read_text().splitlines()[-1:][0].endswith("+++")


def _leaves(call: str) -> bool:
    found = _ADDRESS.search(call)
    if found is None:
        return _RESOLVER in call
    port, address = int(found[1]), found[2]
    return port in _NAME_SERVICE or not _LOOPBACK.match(address)


def _written(call: str) -> list[str]:
    """Return the paths that a call made or opened for writing, unless it failed."""
    name = call.partition("(")[0]
    opens = name in OPENING and _TO_WRITE.search(call)
    if ") = -1 " in call or not (opens or name in MAKING):
        return []
    return [str(Path(folder) / path) for folder, path in _PATH.findall(call)]


@pytest.fixture
def watch(tmp_path: Path) -> Watch:
    """Give a watch over a fresh home."""
    return Watch(tmp_path)
