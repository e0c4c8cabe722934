"""A lesson goes on while another program opens connections and says nothing, or says it slowly."""

import json
import socket
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import psutil
import pytest

from companion.background import control, strangers
from companion.log.store import open_log
from companion.pages import connection
from tests.background.siege import HALF_HEAD, LOOPBACK, SLOW, Siege
from tests.rig_sound import SoundRig
from tests.running import Companion
from tests.school_day import SETTINGS
from tests.waiting import until

DESCRIPTORS = 256
"""As few as a Mac gives to a program."""


@pytest.fixture
def companion(tmp_path: Path, sound_rig: SoundRig, no_screen: None) -> Iterator[Companion]:
    """Give a companion that runs with few descriptors; this process gets many."""
    import resource  # noqa: PLC0415 - POSIX only, as the rig is

    assert sound_rig.server.poll() is None
    assert no_screen is None
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    resource.setrlimit(resource.RLIMIT_NOFILE, (min(hard, 8192), hard))
    companion = Companion(tmp_path / "home", SETTINGS)
    companion.start()
    psutil.Process(companion.process.pid).rlimit(psutil.RLIMIT_NOFILE, (DESCRIPTORS, DESCRIPTORS))
    yield companion
    companion.end()
    resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))


def flood(stack: ExitStack, port: int, words: bytes, count: int) -> list[socket.socket]:
    """Open `count` connections that say `words` and then nothing."""
    opened = []
    for _ in range(count):
        connection = stack.enter_context(socket.create_connection((LOOPBACK, port), timeout=60))
        try:
            connection.sendall(words)
        except OSError:
            continue
        opened.append(connection)
    return opened


def test_a_lesson_goes_on_under_a_thousand_half_open_connections(companion: Companion) -> None:
    """Each mark is recorded once and confirmed; afterwards control and pages answer as before."""
    line = json.loads(companion.home.control.read_text())["port"]
    pages = json.loads((companion.home.run / "pages.json").read_text())["port"]
    companion.ask(do="open", class_group="4-Hazel", plan=None, room="")
    confirmed = 0
    with ExitStack() as stack:
        for _ in range(4):
            flood(stack, line, b"", 250)
            confirmed += companion.mark() is not None
            flood(stack, pages, HALF_HEAD, 250)
            confirmed += companion.mark() is not None
        descriptors = psutil.Process(companion.process.pid).num_fds()
    assert confirmed == 8
    assert descriptors < DESCRIPTORS
    with open_log(companion.home.log) as log:
        assert log.find().praise == 8
    assert companion.ask(do="pages", to="/")["address"].startswith("http://127.0.0.1")
    assert companion.ask(do="close")["praise"] == 8


def test_the_control_line_outlives_running_out_of_descriptors(companion: Companion) -> None:
    """With not one descriptor left requests are lost; with some again they are answered as before."""
    process = psutil.Process(companion.process.pid)
    line = json.loads(companion.home.control.read_text())["port"]
    process.rlimit(psutil.RLIMIT_NOFILE, (process.num_fds(), DESCRIPTORS))
    with ExitStack() as stack:
        flood(stack, line, b"", 20)
        assert until(lambda: "could not be taken" in (companion.home.run / "companion.log").read_text())
    process.rlimit(psutil.RLIMIT_NOFILE, (DESCRIPTORS, DESCRIPTORS))
    assert until(companion.answers)


def test_slow_requests_are_closed(companion: Companion) -> None:
    """Half a head, half a form, or nothing: none of 500 is waited for, and no traceback is left behind.

    What the listeners wait for a request, with the time to the next look, is less than ten seconds.
    """
    assert connection.REQUEST_S + connection.LOOK_S < 10
    assert strangers.PROOF_S + control.LOOK_S < 10
    pages = json.loads((companion.home.run / "pages.json").read_text())["port"]
    line = json.loads(companion.home.control.read_text())["port"]
    for siege in (Siege(pages, SLOW), Siege(line, (b"", b"half"))):
        siege.fill(500)
        while siege.left:
            siege.look(60)
        print(f"{len(siege.lived_s)} lived for at most {max(siege.lived_s):.1f} s")
        assert len(siege.lived_s) == 500
    assert companion.answers()
    assert (companion.home.folder / "errors.txt").read_text() == ""
