"""What candidates sounded like: in memory only, until their session is settled."""

import threading
from collections import OrderedDict

from companion.listening.candidate import Sound

MOST = 200
"""Clips kept at once, some 25 MB; the oldest go first."""


class Clips:
    """Sounds by session and by the id of their mark or near miss. Any thread may use it."""

    def __init__(self) -> None:
        self._sounds: OrderedDict[tuple[str, str], Sound] = OrderedDict()
        self._lock = threading.Lock()

    def keep(self, session: str, item: str, sound: Sound) -> None:
        """Keep the sound of a mark or near miss."""
        with self._lock:
            self._sounds[session, item] = sound
            while len(self._sounds) > MOST:
                self._sounds.popitem(last=False)

    def get(self, session: str, item: str) -> Sound | None:
        """Return the sound of a mark or near miss, or None if it is not there any more."""
        with self._lock:
            return self._sounds.get((session, item))

    def forget(self, session: str) -> None:
        """Drop all sounds of a session."""
        with self._lock:
            for key in [key for key in self._sounds if key[0] == session]:
                del self._sounds[key]

    def items(self, session: str) -> frozenset[str]:
        """Return the ids of the session's marks and near misses whose sound is there."""
        with self._lock:
            return frozenset(item for of, item in self._sounds if of == session)

    @property
    def sessions(self) -> set[str]:
        """The sessions of which there are sounds."""
        with self._lock:
            return {session for session, _ in self._sounds}
