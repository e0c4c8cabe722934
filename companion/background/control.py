"""How a command reaches the companion that is running: a loopback socket, with a key in a private file.

Both sides prove that they know the key before anything is read; what goes over the line is JSON. Each request
has an id: where the answer is late, it is asked for again, and nothing is done twice.
"""

import json
import logging
import secrets
import socket
import threading
import time
from collections import OrderedDict, deque
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from multiprocessing import AuthenticationError
from multiprocessing.connection import Connection, answer_challenge, deliver_challenge
from pathlib import Path
from typing import Any

from companion.background.lock import is_free, is_held
from companion.background.strangers import MOST_STRANGERS, Strangers, end_by_itself
from companion.errors import CompanionError
from companion.language import _, later
from companion.paths import private_folder, replace_file

log = logging.getLogger(__name__)

Message = dict[str, Any]
Respond = Callable[[Message], Message]

NO_TROUBLE = later("none")
"""In an answer in English, as other programs go by it; shown by `_(NO_TROUBLE)`."""
LONGEST = 1_000_000
ANSWER_WITHIN_S = 120.0
"""How long a command waits for what it asked for."""
LATE_S = 10.0
"""After this time a request is told that its answer is late, and asks again."""
GREET_WITHIN_S = 3.0
"""How long connecting and proving the key may take; then it is no companion that holds the port."""
CROWDED_S = 20.0
"""How long a command tries to get through a crowd of strangers."""
KNOCK = 16
"""Bytes that a command sends first, not to be let go of among a crowd. They prove nothing: the key does."""
KNOCK_S = 0.2
"""So long they are waited for: a command of an older version does not knock."""
REMEMBERED = 200
"""Answers that are kept in case that they are asked for again."""
LOOPBACK = "127.0.0.1"
BACKLOG = 1024
"""So many connections wait to be taken. One that finds the line full is open for whoever opened it, but not
here, until the system greets it anew, seconds later: only then does its time begin."""
LOOK_S = 1.0
"""How often it is looked for strangers whose time is over."""
PAUSE_S = 0.1
"""From one failed try to take a request to the next."""
AGAIN_S = 0.02
"""From one try of a command to reach a companion that runs to the next."""


class NotRunningError(CompanionError):
    """There is no running companion to talk to."""

    def __init__(self) -> None:
        super().__init__(_("The companion is not running."), remedy=_("Start it with: companion start"))


class NoAnswerError(NotRunningError):
    """A companion runs, but it is frozen, or has only begun to start."""

    def __init__(self) -> None:
        CompanionError.__init__(
            self,
            _("The companion runs, but does not answer."),
            safe=_("Everything recorded before is safe."),
            remedy=_("Try again in a moment. If it stays so, end it in the task list and start it again."),
        )


class _CutOffError(NoAnswerError):
    """The companion took the connection and let go of it, as where strangers crowd the line."""


class ControlServer:
    """Answers requests, each on a thread of its own, until closed."""

    def __init__(self, address_file: Path, answer: Respond) -> None:
        """Listen on any free loopback port and write address and key into `address_file` (0600)."""
        self._file = address_file
        self._key, self._knock = secrets.token_bytes(32), secrets.token_bytes(KNOCK)
        self._listener = socket.create_server((LOOPBACK, 0), backlog=BACKLOG)
        self._strangers = Strangers()
        self._answers = _Answers(answer)
        self._closed = False
        private_folder(address_file.parent)
        port = self._listener.getsockname()[1]
        address = {"port": port, "key": self._key.hex(), "knock": self._knock.hex()}
        self._address = json.dumps(address).encode()
        self._write = threading.Lock()
        replace_file(address_file, self._address)
        threading.Thread(target=self._run, name="control", daemon=True).start()

    def close(self) -> None:
        """Take no more requests."""
        with self._write:
            self._closed = True
            self._file.unlink(missing_ok=True)
        self._listener.close()

    def _run(self) -> None:
        while not self._closed:
            self._strangers.cut_late()
            try:
                self._take()
            except TimeoutError:
                self._keep_address()
            except (OSError, RuntimeError) as error:
                # No descriptor or thread is left: what is half open makes room, and the next try may do.
                if not self._closed:
                    log.warning("a request could not be taken: %s", type(error).__name__)
                    self._strangers.cut_late(everyone=True)
                    time.sleep(PAUSE_S)

    def _keep_address(self) -> None:
        """Write the address anew where somebody tidied it away: without it no command gets here."""
        with self._write, suppress(OSError):
            if not self._closed and (not self._file.exists() or self._file.read_bytes() != self._address):
                replace_file(self._file, self._address)

    def _take(self) -> None:
        """Take all who wait in line: those who have knocked at once, of the others the newest then."""
        quiet: deque[socket.socket] = deque()
        try:
            for accepted in self._line():
                accepted.settimeout(0)
                if self._has_knocked(accepted):
                    self._begin(accepted, knocked=True)
                    continue
                quiet.append(accepted)
                if len(quiet) > MOST_STRANGERS:
                    quiet.popleft().close()
            # What they were about to say may have come meanwhile.
            quiet = deque(sorted(quiet, key=self._has_knocked, reverse=True))
            while quiet:
                self._begin(one := quiet.popleft(), knocked=self._has_knocked(one))
        finally:
            for one in quiet:
                one.close()

    def _line(self) -> Iterator[socket.socket]:
        """Yield who comes next, which is waited for, and all who wait in line behind."""
        self._listener.settimeout(LOOK_S)
        yield self._listener.accept()[0]
        self._listener.settimeout(0)
        with suppress(BlockingIOError):
            for _ in range(BACKLOG):
                yield self._listener.accept()[0]

    def _begin(self, accepted: socket.socket, *, knocked: bool) -> None:
        with ExitStack() as undo:
            undo.callback(accepted.close)
            handle = self._strangers.add(accepted, knocked=knocked)
            undo.callback(self._strangers.known, handle)
            threading.Thread(target=self._serve, args=[accepted, handle], name="control", daemon=True).start()
            undo.pop_all()

    def _has_knocked(self, accepted: socket.socket) -> bool:
        """Whether the words that come first, if they are there, are those of who can read the address."""
        with suppress(OSError):
            return secrets.compare_digest(accepted.recv(KNOCK, socket.MSG_PEEK), self._knock)
        return False

    def _pass_over_knock(self, accepted: socket.socket) -> None:
        with suppress(OSError):
            accepted.settimeout(KNOCK_S)
            if self._has_knocked(accepted):
                accepted.recv(KNOCK)
            accepted.settimeout(None)

    def _serve(self, accepted: socket.socket, handle: socket.socket) -> None:
        self._pass_over_knock(accepted)
        # Whatever a stranger sends ends here, before anything of it is looked at.
        with suppress(Exception), Connection(accepted.detach()) as connection:
            try:
                deliver_challenge(connection, self._key)
                answer_challenge(connection, self._key)
                message = json.loads(connection.recv_bytes(LONGEST))
            finally:
                self._strangers.known(handle)
            connection.send_bytes(json.dumps(self._answers.to(message)).encode())


class _Answers:
    """The answers to requests, each worked out once, on a thread of its own."""

    def __init__(self, answer: Respond) -> None:
        self._answer = answer
        self._lock = threading.Lock()
        self._begun: OrderedDict[str, _Answering] = OrderedDict()

    def to(self, message: Message) -> Message:
        """Return the answer to `message`, or that it is late."""
        request = str(message.pop("request", "")) or secrets.token_hex(16)
        with self._lock:
            answering = self._begun.get(request)
            if answering is None:
                answering = self._begun[request] = _Answering()
                while len(self._begun) > REMEMBERED:
                    self._begun.popitem(last=False)
                work = threading.Thread(target=self._work_out, args=[answering, message], daemon=True)
                work.start()
        return answering.reply if answering.done.wait(LATE_S) else {"late": True}

    def _work_out(self, answering: "_Answering", message: Message) -> None:
        answering.reply = self._answered(message)
        answering.done.set()

    def _answered(self, message: Message) -> Message:
        try:
            return {"answer": self._answer(message)}
        except CompanionError as error:
            return {"what": error.what, "safe": error.safe, "remedy": error.remedy}
        except Exception:
            log.exception("a request could not be answered")
            return {
                "what": _("The running companion could not do that."),
                "safe": "",
                "remedy": _("See its log file."),
            }


class _Answering:
    """An answer that is being worked out, or is there."""

    def __init__(self) -> None:
        self.done = threading.Event()
        self.reply: Message = {}


def ask(address_file: Path, message: Message) -> Message:
    """Send `message` to the running companion and return its answer.

    Raises NotRunningError if nobody answers (NoAnswerError if there is somebody), and the companion's own
    CompanionError.
    """
    message = {"request": secrets.token_hex(16), **message}
    end_s = time.monotonic() + ANSWER_WITHIN_S
    reply = _insist(address_file, message)
    while "late" in reply:
        if time.monotonic() > end_s:
            raise CompanionError(
                _("The companion has not answered yet."),
                safe=_("What you asked for is not lost: it is done as soon as the disk lets it."),
                remedy=_("See how it is with: companion status"),
            )
        reply = _insist(address_file, message)
    if "what" in reply:
        raise CompanionError(reply["what"], safe=reply["safe"], remedy=reply["remedy"])
    answer: Message = reply["answer"]
    return answer


def _insist(address_file: Path, message: Message) -> Message:
    """Ask until it is taken: where strangers crowd the line, one's own connection may be cut with theirs."""
    began_s = time.monotonic()
    while True:
        tried_s = time.monotonic()
        try:
            return _ask_once(address_file, message)
        except NoAnswerError as error:
            now_s = time.monotonic()
            crowded = isinstance(error, _CutOffError) and now_s - tried_s < GREET_WITHIN_S
            if now_s - began_s > (CROWDED_S if crowded else GREET_WITHIN_S):
                raise
            time.sleep(AGAIN_S)


def _ask_once(address_file: Path, message: Message) -> Message:
    if is_free(address_file.parent):
        # What a dead companion's address leads to is a stranger, who is told nothing.
        raise NotRunningError
    reached = False
    try:
        place = json.loads(address_file.read_text())
        key = bytes.fromhex(place["key"])
        connected = socket.create_connection((LOOPBACK, place["port"]), timeout=GREET_WITHIN_S)
        reached = True
        connected.settimeout(None)
        connected.sendall(bytes.fromhex(place.get("knock", "")))
        end_by_itself(connected, GREET_WITHIN_S)
        handle = connected.dup()
        with Connection(connected.detach()) as connection:
            with _cut_off_after(GREET_WITHIN_S, handle):
                answer_challenge(connection, key)
                deliver_challenge(connection, key)
            connection.send_bytes(json.dumps(message).encode())
            if not connection.poll(2 * LATE_S):
                return {"late": True}
            reply: Message = json.loads(connection.recv_bytes(LONGEST))
            return reply
    except (OSError, EOFError, ValueError, KeyError, TypeError, AuthenticationError) as error:
        if not is_held(address_file.parent):
            raise NotRunningError from error
        raise (_CutOffError if reached else NoAnswerError) from error


@contextmanager
def _cut_off_after(limit_s: float, handle: socket.socket) -> Iterator[None]:
    """End the connection behind `handle` if the block takes longer: who says nothing is no companion."""
    watch = threading.Timer(limit_s, lambda: handle.shutdown(socket.SHUT_RDWR))
    watch.daemon = True
    watch.start()
    try:
        yield
    finally:
        watch.cancel()
        handle.close()
