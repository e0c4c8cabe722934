"""Whether the companion's processes reach out of this computer."""

import socket
import subprocess
import sys

from companion.background.outgoing import OutgoingWatch
from tests.systems import tells_of_udp
from tests.waiting import until

LOOKS_UP = (
    "import socket, sys\n"
    "line = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)\n"
    "line.connect(('127.0.0.1', 53))\n"
    "sys.stdin.read()\n"
)


@tells_of_udp
def test_a_connection_beyond_this_computer_is_seen() -> None:
    """Of this process and of its children, the name service on this computer included."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as out, OutgoingWatch() as watch:
        out.connect(("192.0.2.1", 9))
        child = subprocess.Popen([sys.executable, "-c", LOOKS_UP], stdin=subprocess.PIPE)
        assert until(lambda: len(watch.reached) == 2)
        child.communicate()
    assert watch.reached == {"192.0.2.1:9", "127.0.0.1:53"}


def test_what_stays_on_this_computer_is_nothing_outgoing() -> None:
    """The pages and the control line are reached through the loopback address."""
    with (
        socket.create_server(("127.0.0.1", 0)) as pages,
        OutgoingWatch() as watch,
        socket.create_connection(pages.getsockname()),
    ):
        seen = watch.looks
        assert until(lambda: watch.looks > seen + 1)
    assert watch.reached == set()
