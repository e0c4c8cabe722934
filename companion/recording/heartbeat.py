"""A sign of life beside the log, so that a crash leaves a gap no longer than it was."""

import json
from contextlib import suppress
from datetime import datetime
from pathlib import Path

from companion.paths import replace_file


class Heartbeat:
    """A small file with the session that was being watched, and until when.

    It is a help, not a record: a lost or torn one only makes the gap in the log look longer.
    """

    def __init__(self, path: Path) -> None:
        self._path = path

    def beat(self, session: str, offset_ms: int, at: datetime) -> None:
        """Note that `session` is watched at `at`, its offset being `offset_ms`."""
        beat = json.dumps({"session": session, "ms": offset_ms, "at": at.isoformat()})
        with suppress(OSError):
            replace_file(self._path, beat.encode(), synced=False)

    @property
    def session(self) -> str | None:
        """The session that was being watched last; None if it was over, or nobody knows."""
        beat = self._read()
        return beat[0] if beat else None

    def last(self, session: str) -> tuple[int, datetime] | None:
        """Return until when `session` was watched (offset in milliseconds and wall time), if known."""
        beat = self._read()
        return beat[1:] if beat and beat[0] == session else None

    def _read(self) -> tuple[str, int, datetime] | None:
        try:
            beat = json.loads(self._path.read_text())
            return str(beat["session"]), int(beat["ms"]), datetime.fromisoformat(beat["at"])
        except (OSError, ValueError, KeyError, TypeError):
            return None

    def stop(self) -> None:
        """Forget the session, which is over."""
        with suppress(OSError):
            self._path.unlink()
