"""How a command reaches the companion that is running: a loopback socket, with a key in a private file.

Both sides prove that they know the key before anything is read; what goes over the line is JSON.
"""

import json
import logging
import os
import secrets
import socket
import threading
import time
from collections.abc import Callable
from contextlib import ExitStack, suppress
from multiprocessing import AuthenticationError
from multiprocessing.connection import Client, Connection, answer_challenge, deliver_challenge
from pathlib import Path
from typing import Any

from companion.background.strangers import Strangers
from companion.errors import CompanionError
from companion.paths import private_folder

log = logging.getLogger(__name__)

Message = dict[str, Any]
Answer = Callable[[Message], Message]

LONGEST = 1_000_000
ANSWER_WITHIN_S = 30.0
LOOPBACK = "127.0.0.1"
BACKLOG = 128
LOOK_S = 1.0
"""How often it is looked for strangers whose time is over."""
PAUSE_S = 0.1
"""From one failed try to take a request to the next."""


class NotRunningError(CompanionError):
    """There is no running companion to talk to."""

    def __init__(self) -> None:
        super().__init__("The companion is not running.", remedy="Start it with: companion start")


class ControlServer:
    """Answers requests, each on a thread of its own, until closed."""

    def __init__(self, address_file: Path, answer: Answer) -> None:
        """Listen on any free loopback port and write address and key into `address_file` (0600)."""
        self._file = address_file
        self._answer = answer
        self._key = secrets.token_bytes(32)
        self._listener = socket.create_server((LOOPBACK, 0), backlog=BACKLOG)
        self._listener.settimeout(LOOK_S)
        self._strangers = Strangers()
        self._closed = False
        private_folder(address_file.parent)
        port = self._listener.getsockname()[1]
        fresh = address_file.with_suffix(".new")
        fresh.unlink(missing_ok=True)
        with os.fdopen(os.open(fresh, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600), "w") as file:
            json.dump({"port": port, "key": self._key.hex()}, file)
        fresh.replace(address_file)
        threading.Thread(target=self._run, name="control", daemon=True).start()

    def close(self) -> None:
        """Take no more requests."""
        self._closed = True
        self._file.unlink(missing_ok=True)
        self._listener.close()

    def _run(self) -> None:
        while not self._closed:
            self._strangers.cut_late()
            try:
                self._take()
            except TimeoutError:
                continue
            except (OSError, RuntimeError) as error:
                # No descriptor or thread is left: what is half open makes room, and the next try may do.
                if not self._closed:
                    log.warning("a request could not be taken: %s", type(error).__name__)
                    self._strangers.cut_late(everyone=True)
                    time.sleep(PAUSE_S)

    def _take(self) -> None:
        accepted, _ = self._listener.accept()
        with ExitStack() as undo:
            undo.callback(accepted.close)
            accepted.setblocking(True)
            handle = self._strangers.add(accepted)
            undo.callback(self._strangers.known, handle)
            threading.Thread(target=self._serve, args=[accepted, handle], name="control", daemon=True).start()
            undo.pop_all()

    def _serve(self, accepted: socket.socket, handle: socket.socket) -> None:
        # Whatever a stranger sends ends here, before anything of it is looked at.
        with suppress(Exception), Connection(accepted.detach()) as connection:
            try:
                deliver_challenge(connection, self._key)
                answer_challenge(connection, self._key)
                message = json.loads(connection.recv_bytes(LONGEST))
            finally:
                self._strangers.known(handle)
            connection.send_bytes(json.dumps(self._answered(message)).encode())

    def _answered(self, message: Message) -> Message:
        try:
            return {"answer": self._answer(message)}
        except CompanionError as error:
            return {"what": error.what, "safe": error.safe, "remedy": error.remedy}
        except Exception:
            log.exception("a request could not be answered")
            return {
                "what": "The running companion could not do that.",
                "safe": "",
                "remedy": "See its log file.",
            }


def ask(address_file: Path, message: Message) -> Message:
    """Send `message` to the running companion and return its answer.

    Raises NotRunningError if nobody answers, and the companion's own CompanionError.
    """
    try:
        place = json.loads(address_file.read_text())
        with Client((LOOPBACK, place["port"]), authkey=bytes.fromhex(place["key"])) as connection:
            connection.send_bytes(json.dumps(message).encode())
            if not connection.poll(ANSWER_WITHIN_S):
                raise CompanionError("The companion does not answer.", remedy="Try again, or restart it.")
            reply = json.loads(connection.recv_bytes(LONGEST))
    except (OSError, EOFError, ValueError, KeyError, AuthenticationError) as error:
        raise NotRunningError from error
    if "what" in reply:
        raise CompanionError(reply["what"], safe=reply["safe"], remedy=reply["remedy"])
    answer: Message = reply["answer"]
    return answer
