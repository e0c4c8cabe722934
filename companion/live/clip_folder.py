"""What candidates sounded like, on disk: only where the settings say so, and only until their last day.

A child's voice may be in it. School policy and local law decide whether it may be kept at all.
"""

import logging
import os
import shutil
from datetime import date
from pathlib import Path

import numpy as np
import soundfile

from companion.errors import CompanionError
from companion.language import later
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.paths import private_folder

log = logging.getLogger(__name__)

SUFFIX = ".flac"
CAUTION = later(
    "The sound of phrases is kept on disk until {until}. Children's voices may be in it: make sure that "
    "school policy and local law allow that."
)


class ClipFolder:
    """Sounds in files of a private folder, which is emptied after its last day."""

    def __init__(self, folder: Path, until: date | None) -> None:
        self.until = until
        """The last day; None: nothing may be kept."""
        self._folder = folder

    def keep(self, session: str, item: str, sound: Sound, today: date) -> None:
        """Keep the sound of a mark or near miss, if today is not past the last day."""
        if self.until is None or today > self.until or not len(sound):
            return
        try:
            path = private_folder(private_folder(self._folder) / session) / f"{item}{SUFFIX}"
            with os.fdopen(os.open(path, os.O_CREAT | os.O_WRONLY | os.O_TRUNC, 0o600), "wb") as file:
                soundfile.write(file, sound, SAMPLE_RATE, format="FLAC")
        except (OSError, CompanionError, soundfile.LibsndfileError) as error:
            # A mark must not fail with its clip.
            log.warning("a clip could not be kept: %s", type(error).__name__)

    def items(self, session: str) -> frozenset[str]:
        """Return the ids of the session's marks and near misses whose sound is here."""
        if self.until is None or not _is_name(session):
            return frozenset()
        return frozenset(path.stem for path in (self._folder / session).glob(f"*{SUFFIX}"))

    def get(self, session: str, item: str) -> Sound | None:
        """Return the sound of a mark or near miss, or None if it is not here or can't be read."""
        if item not in self.items(session):
            return None
        try:
            sound, _ = soundfile.read(self._folder / session / f"{item}{SUFFIX}", dtype="int16")
        except (OSError, soundfile.LibsndfileError):
            return None
        return np.asarray(sound, np.int16)

    def forget(self, session: str) -> None:
        """Remove all sounds of a session."""
        if _is_name(session):
            shutil.rmtree(self._folder / session, ignore_errors=True)

    def purge(self, today: date) -> bool:
        """Remove everything if nothing may be kept any more; return whether there was something."""
        if (self.until is not None and today <= self.until) or not self._folder.is_dir():
            return False
        shutil.rmtree(self._folder, ignore_errors=True)
        return True


def _is_name(session: str) -> bool:
    """Whether this can be a session's id; it may come from the address of a page."""
    return session.isalnum()
