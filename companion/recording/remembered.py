"""The sessions that this run of the companion has written, should the log's file come to lack them."""

from contextlib import suppress

from companion.errors import CompanionError
from companion.log.forget import times_forgotten
from companion.log.plain_errors import LogError
from companion.log.store import SessionLog
from companion.recording.writer import SessionWriter

MOST = 20
"""So many of the newest are kept: two full days."""


class Remembered:
    """Keeps the writer of each, and in it no more than the log itself keeps."""

    def __init__(self, log: SessionLog) -> None:
        self._log = log
        self._writers: dict[str, SessionWriter] = {}
        self._forgotten = -1
        with suppress(LogError):
            self._forgotten = times_forgotten(log)

    @property
    def writers(self) -> list[SessionWriter]:
        """Those of all sessions, the oldest first."""
        return list(self._writers.values())

    def add(self, writer: SessionWriter) -> None:
        """Remember a session that was written now."""
        self._writers.pop(writer.session.id, None)
        self._writers[writer.session.id] = writer
        while len(self._writers) > MOST:
            del self._writers[next(iter(self._writers))]

    def look_again(self) -> bool:
        """Take up what another program has written or forgotten, and return whether anything was forgotten.

        Raises LogError if the log can't be read.
        """
        forgotten = times_forgotten(self._log)
        anew = forgotten != self._forgotten
        for session_id, writer in list(self._writers.items()):
            if not anew and self._log.newest(session_id) <= writer.session.last_seq:
                continue
            try:
                writer.read_again()
            except LogError:
                raise
            except CompanionError:
                del self._writers[session_id]
        self._forgotten = forgotten
        return anew
