"""What candidates sounded like: in memory until the session is settled, and on disk where wanted."""

import threading
from collections import OrderedDict
from datetime import date

from companion.listening.sound import Sound
from companion.live.clip_folder import ClipFolder

MOST = 200
"""Clips in memory at once, some 25 MB; the oldest go first."""


class Clips:
    """Sounds by session and by the id of their mark or near miss. Any thread may use it."""

    def __init__(self, kept: ClipFolder | None = None) -> None:
        """Begin with what `kept` has on disk; None: nothing is ever written there."""
        self._sounds: OrderedDict[tuple[str, str], Sound] = OrderedDict()
        self._lock = threading.Lock()
        self._kept = kept

    def keep(self, session: str, item: str, sound: Sound, today: date) -> None:
        """Keep the sound of a mark or near miss."""
        with self._lock:
            self._sounds[session, item] = sound
            while len(self._sounds) > MOST:
                self._sounds.popitem(last=False)
        if self._kept:
            self._kept.keep(session, item, sound, today)

    def get(self, session: str, item: str) -> Sound | None:
        """Return the sound of a mark or near miss, or None if it is not there any more."""
        with self._lock:
            sound = self._sounds.get((session, item))
        return self._kept.get(session, item) if sound is None and self._kept else sound

    def forget(self, session: str) -> None:
        """Drop all sounds of a session from memory."""
        with self._lock:
            for key in [key for key in self._sounds if key[0] == session]:
                del self._sounds[key]

    def items(self, session: str) -> frozenset[str]:
        """Return the ids of the session's marks and near misses whose sound is there."""
        with self._lock:
            in_memory = frozenset(item for of, item in self._sounds if of == session)
        return in_memory | self._kept.items(session) if self._kept else in_memory

    @property
    def sessions(self) -> set[str]:
        """The sessions of which there are sounds in memory."""
        with self._lock:
            return {session for session, _ in self._sounds}

    def purge(self, until: date | None, today: date) -> bool:
        """Remove from disk what may be there only up to `until`; return whether there was any."""
        if self._kept is None:
            return False
        self._kept.until = until
        return self._kept.purge(today)
