"""How commands reach the running companion."""

import json
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack, suppress
from multiprocessing.connection import Client, Connection, answer_challenge, deliver_challenge
from pathlib import Path

import pytest
from filelock import FileLock

from companion.background import control
from companion.background.control import LOOPBACK, ControlServer, Message, NotRunningError, ask
from companion.background.lock import LOCK
from companion.background.strangers import MOST_STRANGERS, Strangers
from companion.errors import CompanionError
from tests.background.siege import in_line
from tests.systems import is_private, needs_linux
from tests.waiting import until

SLOW = threading.Event()
"""Lets what is slow come to its end."""
DONE: list[str] = []


def answer(message: Message) -> Message:
    """Say back what was asked, or fail or be slow as asked."""
    match message["do"]:
        case "wait":
            SLOW.wait()
            DONE.append("wait")
        case "refuse":
            raise CompanionError("No session is open.", safe="Nothing was changed.", remedy="Open one.")
        case "break":
            raise ZeroDivisionError
    return {"heard": message["do"]}


@pytest.fixture
def address(tmp_path: Path) -> Iterator[Path]:
    """Give the address file of a server that answers."""
    server = ControlServer(tmp_path / "run" / "control.json", answer)
    yield tmp_path / "run" / "control.json"
    server.close()


def test_a_request_is_answered(address: Path) -> None:
    """What is asked comes back as the server's own answer, any number of times."""
    assert [ask(address, {"do": word})["heard"] for word in ("a", "b")] == ["a", "b"]


def test_an_error_comes_over_with_its_sentences(address: Path) -> None:
    """What went wrong in the companion reads the same in the command that asked."""
    with pytest.raises(CompanionError) as refused:
        ask(address, {"do": "refuse"})
    assert str(refused.value) == "No session is open. Nothing was changed. Open one."
    with pytest.raises(CompanionError, match="could not do that"):
        ask(address, {"do": "break"})
    assert ask(address, {"do": "a"})["heard"] == "a"


def test_the_address_is_private_and_gone_with_the_server(tmp_path: Path) -> None:
    """Nobody else may read the key; afterwards nobody answers."""
    path = tmp_path / "control.json"
    server = ControlServer(path, answer)
    assert is_private(path)
    server.close()
    with pytest.raises(NotRunningError):
        ask(path, {"do": "a"})


@pytest.mark.parametrize("left", [None, b"", b'{"port": 1', b'{"port": 9, "key": "00"}'])
def test_an_address_that_is_lost_is_written_anew(address: Path, left: bytes | None) -> None:
    """Else a companion whose file was tidied away, or put back as it was, could only be killed."""
    address.unlink() if left is None else address.write_bytes(left)

    def is_reached() -> bool:
        with suppress(NotRunningError):
            return bool(ask(address, {"do": "a"})["heard"] == "a")
        return False

    assert until(is_reached)
    assert is_private(address)


def test_a_stranger_gets_nothing_and_holds_nobody_up(address: Path) -> None:
    """A wrong key is refused, and a connection that says nothing does not keep the next one waiting."""
    port = json.loads(address.read_text())["port"]
    with socket.create_connection((LOOPBACK, port)):
        with pytest.raises(Exception, match=r"digest|reset|rejected"):
            Client((LOOPBACK, port), authkey=b"guessed")
        assert ask(address, {"do": "a"})["heard"] == "a"


def test_who_has_knocked_is_not_let_go_of_in_a_crowd(address: Path) -> None:
    """However slow it is; who has not, as an older version's command, is answered where there is no crowd."""
    place = json.loads(address.read_text())
    with ExitStack() as stack:
        own = stack.enter_context(socket.create_connection((LOOPBACK, place["port"])))
        own.sendall(bytes.fromhex(place["knock"]))
        for _ in range(3 * MOST_STRANGERS):
            crowd = stack.enter_context(socket.create_connection((LOOPBACK, place["port"])))
            crowd.sendall(b"knock, knock")
        assert heard(own, bytes.fromhex(place["key"])) == "a"
    with socket.create_connection((LOOPBACK, place["port"])) as older:
        assert heard(older, bytes.fromhex(place["key"])) == "a"


def heard(line: socket.socket, key: bytes) -> str:
    """Ask the server by a connection that was made, and return what it heard."""
    with Connection(line.detach()) as connection:
        answer_challenge(connection, key)
        deliver_challenge(connection, key)
        connection.send_bytes(json.dumps({"do": "a"}).encode())
        return str(json.loads(connection.recv_bytes())["answer"]["heard"])


def test_an_address_left_over_by_a_crash_is_nobody(tmp_path: Path) -> None:
    """A file of a companion that was killed means that none is running."""
    with socket.socket() as free:
        free.bind((LOOPBACK, 0))
        port = free.getsockname()[1]
    (tmp_path / "control.json").write_text(json.dumps({"port": port, "key": "00"}))
    with pytest.raises(NotRunningError):
        ask(tmp_path / "control.json", {"do": "a"})


def test_an_answer_that_comes_late_is_asked_for_again_and_nothing_is_done_twice(
    address: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A slow disk is no failure: the answer comes when it is done, once."""
    monkeypatch.setattr(control, "LATE_S", 0.05)
    DONE.clear()
    SLOW.clear()
    threading.Timer(0.4, SLOW.set).start()
    assert ask(address, {"do": "wait"})["heard"] == "wait"
    assert DONE == ["wait"]


def test_a_command_that_is_cut_off_among_strangers_tries_again(
    address: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whoever floods the line takes its turn, but not for long; with nobody there it gives up at once."""
    left, add = [MOST_STRANGERS], Strangers.add

    def crowded(strangers: Strangers, connection: socket.socket, *, knocked: bool) -> socket.socket:
        handle = add(strangers, connection, knocked=knocked)
        if left[0]:
            left[0] -= 1
            connection.shutdown(socket.SHUT_RDWR)
        return handle

    monkeypatch.setattr(Strangers, "add", crowded)
    with pytest.raises(NotRunningError):
        ask(address, {"do": "a"})
    assert left == [MOST_STRANGERS - 1]
    with FileLock(address.parent / LOCK):
        assert ask(address, {"do": "a"})["heard"] == "a"
    assert left == [0]


def test_a_crowd_is_waited_for_longer_than_one_that_says_nothing(
    address: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """To be let go of at once means that somebody is there, and busy."""
    monkeypatch.setattr(control, "GREET_WITHIN_S", 0.3)
    ready_s = time.monotonic() + 1

    def crowded(strangers: Strangers, connection: socket.socket, *, knocked: bool) -> socket.socket:
        handle = add(strangers, connection, knocked=knocked)
        if time.monotonic() < ready_s:
            connection.shutdown(socket.SHUT_RDWR)
        return handle

    add = Strangers.add
    monkeypatch.setattr(Strangers, "add", crowded)
    with FileLock(address.parent / LOCK):
        assert ask(address, {"do": "a"})["heard"] == "a"


@needs_linux
def test_five_hundred_wait_in_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """None is left half open: the system would greet it anew seconds later, and its time would begin then."""
    go_on, take = threading.Event(), ControlServer._take
    monkeypatch.setattr(ControlServer, "_take", lambda server: (go_on.wait(), take(server)))
    server = ControlServer(tmp_path / "control.json", answer)
    port = json.loads((tmp_path / "control.json").read_text())["port"]
    with ExitStack() as stack:
        for _ in range(500):
            stack.enter_context(socket.create_connection((LOOPBACK, port)))
        assert in_line(server._listener)[0] == 500
    go_on.set()
    server.close()


def test_who_has_knocked_goes_before_all_who_wait_in_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A command is not held up by strangers who came before it; of those most are let go of unheard."""
    go_on, take, add, begun = threading.Event(), ControlServer._take, Strangers.add, list[bool]()

    def noted(strangers: Strangers, connection: socket.socket, *, knocked: bool) -> socket.socket:
        begun.append(knocked)
        return add(strangers, connection, knocked=knocked)

    monkeypatch.setattr(ControlServer, "_take", lambda server: (go_on.wait(), take(server)))
    monkeypatch.setattr(Strangers, "add", noted)
    server = ControlServer(tmp_path / "control.json", answer)
    place = json.loads((tmp_path / "control.json").read_text())
    with ExitStack() as stack:
        for words in (*[b""] * 100, bytes.fromhex(place["knock"])):
            one = stack.enter_context(socket.create_connection((LOOPBACK, place["port"])))
            one.sendall(words)
        go_on.set()
        assert until(lambda: len(begun) > MOST_STRANGERS)
    assert begun[0]
    assert begun.count(False) == MOST_STRANGERS
    server.close()


def test_an_answer_that_does_not_come_is_told_as_that(address: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Not that it could not be done: it may be done yet."""
    monkeypatch.setattr(control, "LATE_S", 0.05)
    monkeypatch.setattr(control, "ANSWER_WITHIN_S", 0.2)
    SLOW.clear()
    with pytest.raises(CompanionError, match=r"not answered yet.*not lost"):
        ask(address, {"do": "wait"})
    SLOW.set()


def test_another_program_on_a_dead_companions_port_hangs_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It takes the connection and says nothing, or less than a greeting: there is no companion."""
    monkeypatch.setattr(control, "GREET_WITHIN_S", 0.2)
    with socket.create_server((LOOPBACK, 0)) as other:
        place = {"port": other.getsockname()[1], "key": "00" * 32}
        (tmp_path / "control.json").write_text(json.dumps(place))
        with pytest.raises(NotRunningError):
            ask(tmp_path / "control.json", {"do": "a"})
        other.accept()[0].close()
        threading.Thread(target=_say_little, args=[other], daemon=True).start()
        with pytest.raises(NotRunningError):
            ask(tmp_path / "control.json", {"do": "a"})


def test_what_a_dead_companions_address_leads_to_is_told_nothing(tmp_path: Path) -> None:
    """Another program has its port by now: not one byte is sent there, and nobody waits."""
    lock = FileLock(tmp_path / LOCK)
    lock.acquire()
    lock.release()
    with socket.create_server((LOOPBACK, 0)) as other:
        other.settimeout(0)
        place = {"port": other.getsockname()[1], "key": "00" * 32, "knock": "00" * 16}
        (tmp_path / "control.json").write_text(json.dumps(place))
        with pytest.raises(NotRunningError):
            ask(tmp_path / "control.json", {"do": "a"})
        with pytest.raises(BlockingIOError):
            other.accept()


def _say_little(other: socket.socket) -> None:
    accepted, _ = other.accept()
    with accepted:
        accepted.send(b"\0\0")
        accepted.recv(1)
